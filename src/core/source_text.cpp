// SPDX-License-Identifier: MIT
#include "core/source_text.hpp"

#include <array>
#include <bit>
#include <cstring>
#include <numeric>

namespace trimtack {
namespace {

std::uint64_t mixed(std::uint64_t state, std::uint64_t word) {
  constexpr std::uint64_t kOdd = 0x9e3779b97f4a7c15U;  // 2^64 over the golden ratio: bits well spread
  return std::rotl(state ^ word, 29) * kOdd;
}

}  // namespace

std::uint64_t text_checksum(std::string_view bytes) {
  // Each step is a bijection of the state. Eight lanes, because few alone wait for their multiplications.
  constexpr std::size_t kLanes = 8, kStep = kLanes * sizeof(std::uint64_t);
  std::array<std::uint64_t, kLanes> lanes{1, 2, 3, 4, 5, 6, 7, bytes.size()};
  const char* p = bytes.data();
  std::size_t left = bytes.size();
  for (; left >= kStep; left -= kStep, p += kStep) {
    std::array<std::uint64_t, kLanes> words{};
    std::memcpy(words.data(), p, kStep);
    for (std::size_t k = 0; k < kLanes; ++k) lanes[k] = mixed(lanes[k], words[k]);
  }
  for (; left > 0; --left, ++p) lanes[0] = mixed(lanes[0], static_cast<unsigned char>(*p));
  return std::accumulate(lanes.begin() + 1, lanes.end(), lanes[0], mixed);
}

Result<std::string_view> read_block(const SourceMesh& mesh, const TextBlock& block, std::string& room) {
  Result<std::string_view> bytes = mesh.text->read(block.begin, block.end, room);
  if (bytes && text_checksum(*bytes) != block.checksum) {
    return Error{ErrorCode::BadInput, "was changed while it was being worked on; run the command again", mesh.file, 0};
  }
  return bytes;
}

}  // namespace trimtack
