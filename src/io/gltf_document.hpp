// SPDX-License-Identifier: MIT
/// A glTF file in memory: its JSON, its buffers as one, and checked access to accessors.
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "io/gltf_layout.hpp"
#include "trimtack/result.hpp"

namespace trimtack::gltf {

struct Document {
  std::string file;
  Json json;
  std::string bin;                           ///< all buffers, each at a multiple of 4
  std::vector<std::uint64_t> buffer_offset;  ///< where each began
  std::vector<std::uint64_t> buffer_bytes;
  /// Room left for numbers and pictures; many accessors and images may show the same bytes.
  mutable std::uint64_t memory_left = std::uint64_t{8} << 30;

  /// Items of the top-level array `key`; 0 when there is none.
  std::size_t count(const char* key) const;
};

/// What is wrong with the file, and what to do where the message does not say it.
Error bad_gltf(const std::string& file, std::string message);

/// Numbers of an accessor, normalised integers as fractions: `count` items of `components` each.
struct Numbers {
  std::size_t count = 0, components = 0;
  std::vector<double> values;
  const double* item(std::size_t i) const { return values.data() + i * components; }
};

/// Takes GLB or JSON text apart and loads its buffers: the BIN chunk, data URIs, and files beside `folder` (relative
/// names without ".."; an empty folder refuses them).
/// @error BadInput for what is not glTF 2, a required extension that changes geometry in a way not known here, buffers
/// shorter than stated, or more than `max_bytes` of buffers (0: no limit of its own).
Result<Document> open_document(std::string_view bytes, const std::string& file, const std::filesystem::path& folder,
                               std::uint64_t max_bytes);

/// @error BadInput when the accessor does not exist, leaves its buffer, has a type of no numbers, needs a sparse
/// part that is malformed, or more than the document's memory_left. Memory is taken only after the buffer was found to
/// hold the data (or, for an accessor without a view, for at most 2^24 zeros).
Result<Numbers> read_accessor(const Document& document, std::uint64_t index);

/// "horn%20button.png" -> "horn button.png"
std::string percent_decoded(std::string_view text);

/// The bytes of an image: in a buffer, a data URI, or a file beside `folder` (as for buffers).
/// @error BadInput when there are none, or more than the document's memory_left.
Result<std::string> read_image(const Document& document, std::uint64_t index, const std::filesystem::path& folder);

/// A non-negative whole number under `key`, or `missing`. @throws Json::exception for anything else.
std::uint64_t index_or(const Json& object, const char* key, std::uint64_t missing);

}  // namespace trimtack::gltf
