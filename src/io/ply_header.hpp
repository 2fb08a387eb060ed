// SPDX-License-Identifier: MIT
/// The header of a PLY file.
#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "io/bad_input.hpp"

namespace trimtack::ply {

/// What is wrong with a PLY file, and what to do.
inline Error bad_ply(const std::string& file, std::uint64_t line, std::string message) {
  return bad_input(file, line, with_advice(std::move(message), "the file may be cut off or damaged, export it again"));
}

enum class Type : std::uint8_t { I8, U8, I16, U16, I32, U32, F32, F64 };
inline constexpr std::array<std::size_t, 8> kTypeBytes{1, 1, 2, 2, 4, 4, 4, 8};
inline std::size_t bytes_of(Type type) { return kTypeBytes[static_cast<std::size_t>(type)]; }

struct Property {
  std::string name;
  Type type = Type::F32;
  bool list = false;
  Type count_type = Type::U8;
};

struct Element {
  std::string name;
  std::uint64_t count = 0;
  std::vector<Property> properties;
  bool has_list() const {
    return std::any_of(properties.begin(), properties.end(), [](const Property& p) { return p.list; });
  }
};

enum class Format : std::uint8_t { Ascii, Little, Big };

struct Header {
  Format format = Format::Ascii;
  std::vector<Element> elements;
  std::size_t data_offset = 0;  ///< of the first byte behind "end_header"
  std::uint64_t lines = 0;      ///< lines of the header
};

/// Reads the header from the first bytes of a file. @error BadInput with file and line.
/// Elements and properties are bounded in number, and names are distinct.
Result<Header> read_header(std::string_view bytes, const std::string& file);

}  // namespace trimtack::ply
