// SPDX-License-Identifier: MIT
/// bindings.ttb on disk.
#pragma once

#include <cstddef>
#include <filesystem>
#include <vector>

#include "trimtack/result.hpp"

namespace trimtack {

/// The bytes of a binary table, 8-aligned, checked by the runtime. @error BadInput with the runtime's reason.
Result<std::vector<std::byte>> read_table_file(const std::filesystem::path& path);

}  // namespace trimtack
