// SPDX-License-Identifier: MIT
// Laws of reading NPY headers, on any bytes: the data named lie within the file exactly, the header that trimtack
// writes for the same shape is read as the same shape.
#include <cstdint>
#include <string>
#include <string_view>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/npy.hpp"

using namespace trimtack;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  const Result<NpyInfo> info = parse_npy_info(bytes, size, "a.npy");
  if (!info) {
    require_law(info.error().code == ErrorCode::BadInput && info.error().subject == "a.npy", "errors name the file");
    return 0;
  }
  require_law(info->item_bytes == 4 || info->item_bytes == 8, "4 or 8 bytes a number");
  std::uint64_t items = 1;
  for (const std::uint64_t n : info->shape) items = n == 0 ? 0 : items * n;
  require_law(info->data_offset + items * static_cast<std::uint64_t>(info->item_bytes) == size, "data fill the file");
  const std::string header = npy_header(info->shape, info->item_bytes == 8);
  require_law(header.size() % 64 == 0, "headers are multiples of 64 bytes");
  const Result<NpyInfo> again = parse_npy_info(header, header.size() + (size - info->data_offset), "b.npy");
  require_law(again.has_value() && again->shape == info->shape && again->item_bytes == info->item_bytes,
              "a written header is read as the same shape");
  return 0;
}
