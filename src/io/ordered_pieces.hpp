// SPDX-License-Identifier: MIT
/// Pieces of a file, made on an executor and handed on in order.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <vector>

#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// Two waves of pieces: one is made while the other is handed on. Their memory is used again.
template <class Piece>
using PieceWaves = std::array<std::vector<Piece>, 2>;

template <class Piece>
PieceWaves<Piece> piece_waves() {
  constexpr std::size_t kPiecesInWave = 8;
  return {std::vector<Piece>(kPiecesInWave), std::vector<Piece>(kPiecesInWave)};
}

/// make(i, piece) for i in [0, count), in any order, and take(piece) in order, one at a time; both from any thread.
/// @error the first of take(), after which nothing more is taken
template <class Piece, class Make, class Take>
Result<void> make_in_order(const Executor& executor, std::size_t count, PieceWaves<Piece>& waves, Make make,
                           Take take) {
  Result<void> taken;
  std::size_t made = 0;  // pieces of the wave before, not yet taken
  for (std::size_t first = 0, wave = 0; first < count || made != 0; first += made, wave = 1 - wave) {
    const std::size_t now = std::min(waves[wave].size(), count - first);
    for_ranges(executor, now + 1, 1, [&](std::size_t i, std::size_t) {
      if (i != 0) {
        make(first + i - 1, waves[wave][i - 1]);
        return;
      }
      for (std::size_t k = 0; k < made && taken; ++k) taken = take(waves[1 - wave][k]);
    });
    if (!taken) return taken;
    made = now;
  }
  return taken;
}

}  // namespace trimtack
