// SPDX-License-Identifier: MIT
#include "trimtack/io/table_file.hpp"

#include <span>
#include <string>
#include <utility>

#include "core/memory.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/runtime.h"

namespace trimtack {

Result<std::vector<std::byte>> read_table_file(const std::filesystem::path& path) {
  Result<std::string> text = read_file(path);
  if (!text) return text.error();
  // std::allocator's memory is aligned for any fundamental type, which the runtime asks for.
  std::vector<std::byte> bytes;
  bytes.reserve(text->size());
  touch_ahead(bytes.data(), bytes.capacity());
  const std::span<const std::byte> read = std::as_bytes(std::span(*text));
  bytes.insert(bytes.end(), read.begin(), read.end());
  tt_table table;
  const tt_status status = tt_table_open(&table, bytes.data(), bytes.size());
  if (status != TT_OK)
    return Error{ErrorCode::BadInput,
                 std::string(tt_status_text(status)) + " (at byte " + std::to_string(tt_table_fault_offset(&table)) +
                     "); bind the garment again to get a whole table",
                 path.string(), 0};
  return bytes;
}

}  // namespace trimtack
