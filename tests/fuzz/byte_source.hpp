// SPDX-License-Identifier: MIT
/// Values taken off the front of a fuzz input, so that a target can build well-formed things from any bytes.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>
#include <string>

#include "trimtack/types.hpp"

namespace trimtack::fuzz {

/// Gives zeros when the input is used up.
class ByteSource {
 public:
  ByteSource(const std::uint8_t* data, std::size_t size) : data_(data), left_(size) {}
  bool empty() const { return left_ == 0; }
  std::uint8_t byte() { return left_ == 0 ? std::uint8_t{0} : (--left_, *data_++); }
  Index below(Index count) { return count == 0 ? 0 : byte() % count; }
  /// Small numbers mostly, any bits at times.
  double number() {
    const std::uint8_t kind = byte();
    if (kind < 250) return (kind - 125) / 8.0 + byte() / 4096.0;
    std::uint64_t bits = 0;
    for (int i = 0; i < 8; ++i) bits = bits << 8 | byte();
    double x = 0;
    std::memcpy(&x, &bits, sizeof x);
    return x;
  }
  /// An index below `limit` mostly, at times the limit itself or kNone.
  Index index(Index limit) {
    const std::uint8_t kind = byte();
    return kind == 255 ? kNone : (kind == 254 ? limit : (limit == 0 ? 0 : kind % limit));
  }
  std::string text() {
    std::string out;
    for (std::uint8_t n = byte() % 12; n > 0; --n) out += static_cast<char>(byte());
    return out;
  }

 private:
  const std::uint8_t* data_;
  std::size_t left_;
};

}  // namespace trimtack::fuzz
