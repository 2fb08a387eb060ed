// SPDX-License-Identifier: MIT
#include "io/obj_plain.hpp"

#include <algorithm>

namespace trimtack::obj {
namespace {

struct PlainCorner {
  std::uint64_t index[3];     ///< as written, from 1
  const char* end = nullptr;  ///< null: not a plain one
};

bool closes_corner(char c) { return (class_of(c) & (kBlank | kLineEnd)) != 0; }

/// A corner whose three indices are the same digits, as most exporters write them: where the first ends tells where the
/// others do. @param first, count  its digits, 1 to 7     @param aligned  the same, as numbers at the upper end
bool read_equal_corner(const char* first, unsigned count, std::uint64_t aligned, PlainCorner& corner) {
  const char* const second = first + count + 1;
  const char* const third = second + count + 1;
  const bool equal = second[-1] == '/' && third[-1] == '/' &&
                     detail::aligned_digits(detail::load_eight(second), count) == aligned &&
                     detail::aligned_digits(detail::load_eight(third), count) == aligned;
  if (!equal || aligned == 0 || !closes_corner(third[count])) return false;
  corner.index[0] = corner.index[1] = corner.index[2] = detail::value_of_aligned(aligned);
  corner.end = third + count;
  return true;
}

/// @param p  at the blank in front of it
PlainCorner read_plain_corner(DigitEnds& ends, const char* p) {
  PlainCorner corner;
  for (int k = 0; k < 3; ++k) {
    const char* const digits = p + 1;
    p = end_of_digits(ends, digits);
    const auto count = static_cast<unsigned>(p - digits);
    if (count - 1U >= 7U || (k < 2 && *p != '/')) return corner;
    const std::uint64_t aligned = detail::aligned_digits(detail::load_eight(digits), count);
    if (k == 0 && read_equal_corner(digits, count, aligned, corner)) return corner;
    corner.index[k] = detail::value_of_aligned(aligned);
  }
  if (closes_corner(*p) && corner.index[0] != 0 && corner.index[1] != 0 && corner.index[2] != 0) corner.end = p;
  return corner;
}

}  // namespace

const char* read_plain_corners(DigitEnds& ends, const char* p, const char* end, Block& block) {
  constexpr std::ptrdiff_t kLongest = 3 * 9 + 2 * static_cast<std::ptrdiff_t>(kMaskedText);
  constexpr std::size_t kBatch = 8;
  if (!kPlainText) return p;
  Buffer<Index>*const position = &block.lists[kCornerPosition], *const texcoord = &block.lists[kCornerTexcoord],
                      *const normal = &block.lists[kCornerNormal];
  if (texcoord->size != position->size || normal->size != position->size) return p;
  std::array<std::uint64_t, 3> largest{0, 0, 0};
  for (std::size_t count = kBatch; count == kBatch;) {
    const std::array<Index*, 3> to{position->room(kBatch), texcoord->room(kBatch), normal->room(kBatch)};
    for (count = 0; count < kBatch && end - p > kLongest && *p == ' '; ++count) {
      const PlainCorner corner = read_plain_corner(ends, p);
      if (corner.end == nullptr) break;
      p = corner.end;
      for (std::size_t k = 0; k < 3; ++k) {
        largest[k] = std::max(largest[k], corner.index[k]);
        to[k][count] = static_cast<Index>(corner.index[k] - 1);
      }
    }
    for (Buffer<Index>* list : {position, texcoord, normal}) list->size += count;
  }
  for (std::size_t k = 0; k < 3; ++k)
    block.largest[k] = std::max(block.largest[k], static_cast<std::int64_t>(largest[k]) - 1);
  return p;
}

}  // namespace trimtack::obj
