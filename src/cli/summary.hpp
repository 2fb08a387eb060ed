// SPDX-License-Identifier: MIT
/// What was found and written, for people and for programs.
#pragma once

#include <string>

#include "cli/common.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/table.hpp"

namespace trimtack::cli {

/// Counts per role, unit, uncertain components.
JsonObject parts_summary(const Parts& parts);
void say_parts(const Session& session, const Parts& parts);
/// "wrote 5 files to out/: cloth.obj (1.2 MB), ..."
void say_files(const Session& session, const std::string& folder, const FileSet& files);
/// "1.2 MB"
std::string size_text(std::uint64_t bytes);
/// "15.2 x 15.2 x 3.0 mm (24L)"
std::string prototype_size(const Parts& parts, const Prototype& prototype);

}  // namespace trimtack::cli
