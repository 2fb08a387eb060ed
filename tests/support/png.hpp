// SPDX-License-Identifier: MIT
/// A small PNG picture, made here: ISO/IEC 15948 chunks around an uncompressed deflate block (RFC 1950, RFC 1951).
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace trimtack::test {

inline void put_big(std::string& out, std::uint32_t value) {
  for (int shift = 24; shift >= 0; shift -= 8) out += static_cast<char>(value >> shift & 0xff);
}

inline void put_chunk(std::string& out, const std::string& type_and_data) {
  put_big(out, static_cast<std::uint32_t>(type_and_data.size() - 4));
  std::uint32_t crc = ~0U;
  for (const char c : type_and_data) {
    crc ^= static_cast<unsigned char>(c);
    for (int bit = 0; bit < 8; ++bit) crc = (crc >> 1) ^ ((crc & 1) != 0 ? 0xedb88320U : 0U);
  }
  out += type_and_data;
  put_big(out, ~crc);
}

/// `side` pixels square, RGB, a checkered pattern that depends on `seed`. @pre side is at most 100.
inline std::string checkered_png(std::uint32_t side, unsigned seed) {
  std::string rows;
  for (std::uint32_t y = 0; y < side; ++y) {
    rows += '\0';  // no filter
    for (std::uint32_t x = 0; x < side; ++x) {
      for (const unsigned part : {seed, x * 25, (x ^ y) * 60}) rows += static_cast<char>(part & 0xff);
    }
  }
  const auto size = static_cast<std::uint32_t>(rows.size());
  std::string data = "IDAT\x78\x01\x01";
  for (const std::uint32_t length : {size, ~size}) {
    data += static_cast<char>(length & 0xff);
    data += static_cast<char>(length >> 8 & 0xff);
  }
  std::uint32_t a = 1, b = 0;
  for (const char c : rows) a = (a + static_cast<unsigned char>(c)) % 65521, b = (b + a) % 65521;
  data += rows;
  put_big(data, b << 16 | a);
  std::string header = "IHDR";
  put_big(header, side);
  put_big(header, side);
  header += std::string("\x08\x02\x00\x00\x00", 5);
  std::string png = "\x89PNG\r\n\x1a\n";
  put_chunk(png, header);
  put_chunk(png, data);
  put_chunk(png, "IEND");
  return png;
}

}  // namespace trimtack::test
