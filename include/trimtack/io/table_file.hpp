// SPDX-License-Identifier: MIT
/// bindings.ttb on disk.
#pragma once

#include <cstddef>
#include <filesystem>
#include <vector>

#include "trimtack/result.hpp"
#include "trimtack/runtime.hpp"

namespace trimtack {

struct TableFile {
  std::vector<std::byte> bytes;  ///< 8-aligned
  runtime::Table view;           ///< of the bytes, open; moving the list leaves them where they are
};
/// A binary table, checked by the runtime. @error BadInput with the runtime's reason.
Result<TableFile> open_table_file(const std::filesystem::path& path);

}  // namespace trimtack
