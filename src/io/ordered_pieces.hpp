// SPDX-License-Identifier: MIT
/// Pieces of a file, made on an executor and handed on in order.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <vector>

#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// Two waves of pieces: one is made while the other is handed on. Their memory is used again.
template <class Piece>
using PieceWaves = std::array<std::vector<Piece>, 2>;

template <class Piece>
PieceWaves<Piece> piece_waves(std::size_t pieces_in_wave = 8) {
  return {std::vector<Piece>(pieces_in_wave), std::vector<Piece>(pieces_in_wave)};
}

/// make(i, piece) for i in [0, count), in any order, and take(pieces) in order, one wave at a time; both from any
/// thread. Without a second thread each piece is taken while it is in the cache.
/// @error the first of take(), after which nothing more is taken
template <class Piece, class Make, class Take>
Result<void> make_waves(const Executor& executor, std::size_t count, PieceWaves<Piece>& waves, Make make, Take take) {
  Result<void> taken;
  if (executor.width <= 1) {
    const std::span<Piece> piece = std::span<Piece>(waves[0]).first(count == 0 ? 0 : 1);
    for (std::size_t i = 0; i < count && taken; ++i) {
      make(i, piece.front());
      taken = take(piece);
    }
    return taken;
  }
  std::size_t made = 0;  // pieces of the wave before, not yet taken
  for (std::size_t first = 0, wave = 0; (first < count || made != 0) && taken; first += made, wave = 1 - wave) {
    const std::size_t now = std::min(waves[wave].size(), count - first);
    for_ranges(executor, now + 1, 1, [&](std::size_t i, std::size_t) {
      if (i != 0) {
        make(first + i - 1, waves[wave][i - 1]);
      } else if (made != 0) {
        taken = take(std::span<Piece>(waves[1 - wave]).first(made));
      }
    });
    made = now;
  }
  return taken;
}

/// The same, taken piece by piece.
template <class Piece, class Make, class Take>
Result<void> make_in_order(const Executor& executor, std::size_t count, PieceWaves<Piece>& waves, Make make,
                           Take take) {
  return make_waves(executor, count, waves, make, [&](std::span<Piece> made) {
    Result<void> taken;
    for (std::size_t k = 0; k < made.size() && taken; ++k) taken = take(made[k]);
    return taken;
  });
}

}  // namespace trimtack
