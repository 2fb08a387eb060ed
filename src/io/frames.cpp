// SPDX-License-Identifier: MIT
#include "trimtack/io/frames.hpp"

#include <glob.h>

#include <algorithm>
#include <atomic>
#include <charconv>
#include <optional>
#include <system_error>
#include <tuple>
#include <utility>

#include "core/memory.hpp"
#include "io/bad_input.hpp"
#include "runtime/all_usable.hpp"
#include "trimtack/io/gltf.hpp"
#include "trimtack/io/npy.hpp"
#include "trimtack/io/obj.hpp"
#include "trimtack/io/ply.hpp"

namespace trimtack {
namespace {

namespace fs = std::filesystem;

static_assert(sizeof(Vec3) == 3 * sizeof(double), "positions are read as plain doubles");

std::string extension_of(const fs::path& path) {
  std::string extension = path.extension().string();
  for (char& c : extension) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return extension;
}

// The last run of digits of the name without its extension; none when there is none or it is beyond 64 bits.
std::optional<std::uint64_t> number_of(const fs::path& path) {
  const std::string stem = path.stem().string();
  const std::size_t last = stem.find_last_of("0123456789");
  if (last == std::string::npos) return std::nullopt;
  const std::size_t before = stem.find_last_not_of("0123456789", last);
  const std::size_t first = before == std::string::npos ? 0 : before + 1;
  std::uint64_t number = 0;
  const auto [end, failed] = std::from_chars(stem.data() + first, stem.data() + last + 1, number);
  if (failed != std::errc{}) return std::nullopt;
  return number;
}

std::vector<fs::path> match(const std::string& pattern) {
  std::string shell;
  for (const char c : pattern) {
    if (c == '#') {
      shell += "[0-9]";
    } else {
      shell += c;
    }
  }
  std::vector<fs::path> paths;
  glob_t found{};
  if (::glob(shell.c_str(), GLOB_NOSORT, nullptr, &found) == 0) {
    for (std::size_t i = 0; i < found.gl_pathc; ++i) paths.emplace_back(found.gl_pathv[i]);
  }
  ::globfree(&found);
  std::sort(paths.begin(), paths.end(), [](const fs::path& p, const fs::path& q) {
    return std::make_tuple(number_of(p), p.native()) < std::make_tuple(number_of(q), q.native());
  });
  return paths;
}

bool is_gltf(const std::string& extension) { return extension == ".glb" || extension == ".gltf"; }

GltfReadOptions sampling(double frames_per_second) {
  GltfReadOptions options;
  options.frames_per_second = frames_per_second;
  return options;
}

Result<void> append_samples(const fs::path& path, double frames_per_second, std::vector<FrameRef>& frames) {
  Report report;
  const Result<GltfGarment> garment = GltfGarment::open(path, sampling(frames_per_second), report);
  if (!garment) return garment.error();
  std::uint64_t row = 0;
  for (const GltfGarment::Clip& clip : garment->clips()) {
    for (std::size_t i = 0; i < clip.seconds.size(); ++i, ++row)
      frames.push_back({path, row, true, row + 1, frames_per_second});
  }
  if (row == 0) return bad_input(path.string(), "holds no animation");
  return {};
}

Result<void> append_frames(const fs::path& path, double frames_per_second, std::vector<FrameRef>& frames) {
  const std::string extension = extension_of(path);
  if (extension == ".obj" || extension == ".ply") {
    frames.push_back({path, 0, false, number_of(path).value_or(0)});
    return {};
  }
  if (is_gltf(extension)) return append_samples(path, frames_per_second, frames);
  if (extension != ".npy") {
    return bad_input(path.string(), "is not a frame; frames are .obj, .ply, .npy, .glb or .gltf files");
  }
  const Result<NpyInfo> info = read_npy_info(path);
  if (!info) return info.error();
  const std::vector<std::uint64_t>& shape = info->shape;
  if ((shape.size() != 2 && shape.size() != 3) || shape.back() != 3) {
    std::string text;
    for (const std::uint64_t n : shape) text += (text.empty() ? "" : ", ") + std::to_string(n);
    return bad_input(path.string(),
                     "has shape (" + text + "); frames have shape (frames, vertices, 3) or (vertices, 3)");
  }
  const std::uint64_t rows = shape.size() == 2 ? 1 : shape[0];
  if (rows == 0 || shape[shape.size() - 2] == 0)
    return bad_input(path.string(), "holds no frame: its shape has a zero");
  for (std::uint64_t row = 0; row < rows; ++row) frames.push_back({path, row, true, row + 1});
  return {};
}

void settle_numbers(std::vector<FrameRef>& frames) {
  std::vector<std::uint64_t> numbers;
  bool all_numbered = true;
  for (const FrameRef& frame : frames) {
    all_numbered = all_numbered && (frame.in_array || number_of(frame.path).has_value());
    numbers.push_back(frame.number);
  }
  std::sort(numbers.begin(), numbers.end());
  if (all_numbered && std::adjacent_find(numbers.begin(), numbers.end()) == numbers.end()) return;
  for (std::size_t i = 0; i < frames.size(); ++i) frames[i].number = i + 1;
}

}  // namespace

Result<std::vector<FrameRef>> list_frames(std::span<const std::string> arguments, double frames_per_second) {
  std::vector<FrameRef> frames;
  for (const std::string& argument : arguments) {
    std::error_code ignored;
    std::vector<fs::path> paths;
    if (fs::is_directory(argument, ignored)) {
      return bad_input(argument, "is a folder; name its files or a pattern, for instance " + argument + "/*.obj");
    }
    if (fs::exists(argument, ignored)) {
      paths.emplace_back(argument);
    } else if (argument.find_first_of("*?[#") != std::string::npos) {
      paths = match(argument);
      if (paths.empty()) return bad_input(argument, "no file matches this pattern");
    } else {
      return bad_input(argument, "there is no such file");
    }
    for (const fs::path& path : paths) {
      const Result<void> appended = append_frames(path, frames_per_second, frames);
      if (!appended) return appended.error();
    }
  }
  if (frames.empty()) return Error{ErrorCode::Usage, "no frame is given", "", 0};
  settle_numbers(frames);
  return frames;
}

namespace {

/// What was seen of points as they were read.
struct SeenPoints {
  std::size_t stray = 0;  ///< the first that is not finite; their number when all are
  bool all_usable = true;
};

/// Reads points from number `first` of the array on, and looks at each block while it is in the cache.
Result<void> read_points(const NpyFile& array, std::uint64_t first, std::span<Vec3> points, SeenPoints& seen,
                         const Executor& executor) {
  constexpr std::size_t kPerBlock = 8192;
  std::atomic<std::size_t> least = points.size();
  std::atomic<bool> all_usable = true;
  std::vector<Result<void>> done((points.size() + kPerBlock - 1) / kPerBlock);
  for_ranges(executor, points.size(), kPerBlock, [&](std::size_t begin, std::size_t end) {
    const std::span<double> numbers(&points[begin].x, 3 * (end - begin));
    Result<void>& read = done[begin / kPerBlock] = array.read(3 * (first + begin), numbers);
    if (!read || frame::all_usable(numbers.data(), numbers.size())) return;
    all_usable = false;
    std::size_t found = begin;
    while (found != end && is_finite(points[found])) ++found;
    if (found == end) return;
    for (std::size_t known = least; found < known && !least.compare_exchange_weak(known, found);) {
    }
  });
  seen = {least, all_usable};
  for (Result<void>& read : done)
    if (!read) return read;
  return {};
}

}  // namespace

struct FrameReader::Impl {
  fs::path array_path;
  double frames_per_second = 0;  // of the garment
  std::optional<NpyFile> array;
  std::unique_ptr<char[], LargeDeleter> row_bytes;  ///< of the array
  std::optional<GltfGarment> garment;
  std::vector<Vec3> buffer;
  bool all_usable = false;  ///< of the last frame that was read

  Result<std::span<const Vec3>> read_row(const FrameRef& frame, const Executor& executor);
  Result<std::span<const Vec3>> read_sample(const FrameRef& frame, SourceMesh* faces, const Executor& executor);
};

Result<std::span<const Vec3>> FrameReader::Impl::read_sample(const FrameRef& frame, SourceMesh* faces,
                                                             const Executor& executor) {
  if (!garment || array_path != frame.path || frames_per_second != frame.frames_per_second) {
    array.reset();
    garment.reset();
    Report report;
    Result<GltfGarment> opened = GltfGarment::open(frame.path, sampling(frame.frames_per_second), report);
    if (!opened) return opened.error();
    garment.emplace(std::move(*opened));
    array_path = frame.path;
    frames_per_second = frame.frames_per_second;
  }
  std::uint64_t row = frame.row;
  buffer.resize(garment->mesh().positions.size());
  for (std::size_t clip = 0; clip < garment->clips().size(); ++clip) {
    const std::size_t count = garment->clips()[clip].seconds.size();
    if (row < count) {
      const Result<void> done = garment->pose(static_cast<Index>(clip), row, buffer, executor);
      if (!done) return done.error();
      if (faces != nullptr) {
        *faces = garment->mesh();
        faces->positions.clear();
      }
      return std::span<const Vec3>(buffer);
    }
    row -= count;
  }
  return bad_input(frame.path.string(), "frame " + std::to_string(frame.row) + " lies behind its animations");
}

bool may_have_faces(const std::string& argument) { return extension_of(argument) != ".npy"; }

bool in_metres(const std::string& argument) { return is_gltf(extension_of(argument)); }

Result<std::span<const Vec3>> FrameReader::Impl::read_row(const FrameRef& frame, const Executor& executor) {
  const std::string file = frame.path.string();
  if (!array || array_path != frame.path) {
    array.reset();
    garment.reset();
    row_bytes.reset();
    Result<NpyFile> opened = NpyFile::open(frame.path);
    if (!opened) return opened.error();
    array.emplace(std::move(*opened));
    array_path = frame.path;
  }
  const std::vector<std::uint64_t>& shape = array->info().shape;
  const std::uint64_t rows = shape.size() == 3 ? shape[0] : 1;
  if (shape.size() < 2 || shape.back() != 3 || frame.row >= rows)
    return bad_input(file, "row " + std::to_string(frame.row) + " lies outside of the array");
  const std::uint64_t vertices = shape[shape.size() - 2];
  if (!row_bytes) row_bytes = allocate_large(vertices * sizeof(Vec3));
  const std::span<Vec3> points(reinterpret_cast<Vec3*>(row_bytes.get()), vertices);
  SeenPoints seen;
  const Result<void> done = read_points(*array, frame.row * vertices, points, seen, executor);
  if (!done) return done.error();
  all_usable = seen.all_usable;
  if (seen.stray != points.size()) {
    return bad_input(file, "row " + std::to_string(frame.row) + ": vertex " + std::to_string(seen.stray) +
                               " is not finite; repair the simulation or leave this frame out");
  }
  return std::span<const Vec3>(points);
}

FrameReader::FrameReader() : impl_(std::make_unique<Impl>()) {}
FrameReader::~FrameReader() = default;
FrameReader::FrameReader(FrameReader&&) noexcept = default;
FrameReader& FrameReader::operator=(FrameReader&&) noexcept = default;
bool FrameReader::all_usable() const { return impl_->all_usable; }

Result<std::span<const Vec3>> FrameReader::read(const FrameRef& frame, SourceMesh* faces, const Executor& executor) {
  std::vector<Vec3>& buffer = impl_->buffer;
  impl_->all_usable = false;
  if (frame.in_array && is_gltf(extension_of(frame.path))) return impl_->read_sample(frame, faces, executor);
  if (frame.in_array) {
    if (faces != nullptr) *faces = SourceMesh{};
    return impl_->read_row(frame, executor);
  }
  Report report;
  Result<SourceMesh> mesh = [&] {
    if (extension_of(frame.path) == ".ply") return read_ply(frame.path, {.faces = faces != nullptr}, report);
    return read_obj(
        frame.path,
        {.keep_text = false, .positions_only = faces == nullptr, .max_memory_bytes = 0, .executor = executor}, report);
  }();
  if (!mesh) return mesh.error();
  buffer = std::move(mesh->positions);
  if (faces != nullptr) {
    *faces = std::move(*mesh);
    faces->positions.clear();
  }
  return std::span<const Vec3>(buffer);
}

}  // namespace trimtack
