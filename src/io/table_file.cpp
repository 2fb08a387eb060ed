// SPDX-License-Identifier: MIT
#include "trimtack/io/table_file.hpp"

#include <string>
#include <utility>

#include "trimtack/io/file_set.hpp"

namespace trimtack {

Result<TableFile> open_table_file(const std::filesystem::path& path) {
  // std::allocator's memory is aligned for any fundamental type, which the runtime asks for.
  Result<std::vector<std::byte>> bytes = read_file_bytes(path);
  if (!bytes) return bytes.error();
  TableFile table;
  table.bytes = std::move(*bytes);
  const runtime::Status status = table.view.open(table.bytes);
  if (status != TT_OK)
    return Error{ErrorCode::BadInput,
                 std::string(runtime::text(status)) + " (at byte " + std::to_string(table.view.fault_offset()) +
                     "); bind the garment again to get a whole table",
                 path.string(), 0};
  return table;
}

}  // namespace trimtack
