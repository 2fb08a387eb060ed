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

/// One frame of a sequence: a file of its own, row `row` of an NPY array, or sample `row` of a glTF animation.
struct FrameRef {
  std::filesystem::path path;
  std::uint64_t row = 0;
  bool in_array = false;
  /// The frame's number: from the last digits of the file's name, else its position, from 1; array rows from 1.
  /// Where these would not be unique over the whole list, every frame gets its position.
  std::uint64_t number = 0;
  double frames_per_second = 24;  ///< at which an animation is sampled: gives `row` its meaning
};

/// Frames in order. Each argument is a file (OBJ, PLY, NPY of shape (F, V, 3) or (V, 3), or GLB/glTF: all of its
/// animations one after the other, sampled `frames_per_second` times a second), or a
/// pattern: `*`, `?` and `[a-z]` as in a shell, `#` for one digit ("pose_####.obj"). A file whose name is the pattern
/// itself wins.
/// A pattern's files are sorted by number, then name; those without a number come first.
/// @error BadInput when one matches nothing, is a folder, has another extension, or holds no frame.
Result<std::vector<FrameRef>> list_frames(std::span<const std::string> arguments, double frames_per_second = 24);

/// Whether an argument of list_frames() may stand for frames that have faces of their own to compare (all but NPY), by
/// its ending alone.
bool may_have_faces(const std::string& argument);
/// Whether its frames are in metres by what their format says (glTF), by its ending alone.
bool in_metres(const std::string& argument);

/// Reads frames in any order; keeps an open array and one buffer, so that memory does not grow with their number.
/// OBJ and PLY frames give their positions in file order; faces (to be compared with the garment's) only when `faces`
/// is asked for.
class FrameReader {
 public:
  FrameReader();
  ~FrameReader();
  FrameReader(FrameReader&&) noexcept;
  FrameReader& operator=(FrameReader&&) noexcept;
  /// Positions in file order; valid until the next call. `faces` gets the frame's mesh without its positions (no
  /// faces for an array). @error BadInput naming file and frame, also for a position that is not finite.
  /// Threads: one call at a time; the work within it is split over `executor`.
  Result<std::span<const Vec3>> read(const FrameRef& frame, SourceMesh* faces = nullptr, const Executor& executor = {});
  /// Whether the last read() saw that no coordinate is beyond what poses are evaluated from (check_frame need not look
  /// again). False where it has only seen that all are finite.
  bool all_usable() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace trimtack
