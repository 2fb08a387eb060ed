// SPDX-License-Identifier: MIT
/// The text of a mesh, read again where a writer needs it.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "trimtack/mesh.hpp"

namespace trimtack {

/// Tells a changed text from the one that was parsed. Not a checksum of any format.
std::uint64_t text_checksum(std::string_view bytes);

/// The bytes of one block, as SourceText::read gives them. @error BadInput when they are not what was parsed.
Result<std::string_view> read_block(const SourceMesh& mesh, const TextBlock& block, std::string& room);

}  // namespace trimtack
