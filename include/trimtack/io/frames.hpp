// SPDX-License-Identifier: MIT
/// Sequences of deformed meshes, read one frame at a time so that memory does not grow with their number.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"

namespace trimtack {

/// One frame of a sequence: a file of its own, or row `row` of an NPY array.
struct FrameRef {
  std::filesystem::path path;
  std::uint64_t row = 0;
  bool in_array = false;
  std::uint64_t number =
      0;  ///< the frame's number: from the file name's last digits, else its position, from 1; array rows from 1
};

/// Files, glob patterns ("pose_*.obj") and NPY arrays of shape (F, V, 3) or (V, 3), in order. A pattern's files are
/// sorted by number, then name. @error BadInput when one matches nothing.
Result<std::vector<FrameRef>> list_frames(std::span<const std::string> arguments);

/// Reads frames in any order; keeps an open array and one buffer. OBJ and PLY frames give their positions in file
/// order; faces (for the fingerprint check) only when `faces` is asked for.
class FrameReader {
 public:
  FrameReader();
  ~FrameReader();
  FrameReader(FrameReader&&) noexcept;
  FrameReader& operator=(FrameReader&&) noexcept;
  /// Positions in file order; valid until the next call. @error BadInput naming file and frame.
  Result<std::span<const Vec3>> read(const FrameRef& frame, SourceMesh* faces = nullptr, const Executor& executor = {});

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace trimtack
