// SPDX-License-Identifier: MIT
// The text is cut into blocks at line ends, each block is parsed on its own (obj_block.cpp), and the results are put
// together in order: sums over the blocks before give the places of elements and the meaning of relative indices.
// Blocks do not depend on the executor, so neither does the result.
#include <algorithm>
#include <cstdio>
#include <limits>
#include <memory>
#include <string>
#include <utility>

#include "core/name_table.hpp"
#include "io/obj_block.hpp"
#include "io/obj_text.hpp"
#include "trimtack/io/obj.hpp"

namespace trimtack {
namespace {

using obj::Block;

constexpr std::size_t kBlockBytes = std::size_t{1} << 20;
constexpr std::size_t kReadBytes = std::size_t{8} << 20;

Error bad_input(const std::string& file, std::uint64_t line, std::string message) {
  return {ErrorCode::BadInput, std::move(message), file, line};
}

/// 1-based line of an offset; only for messages. CR LF counts once.
std::uint64_t line_at(std::string_view text, std::uint64_t offset) {
  std::uint64_t line = 1;
  for (std::uint64_t i = 0; i < offset && i < text.size(); ++i) {
    if (text[i] == '\n' || (text[i] == '\r' && (i + 1 == text.size() || text[i + 1] != '\n'))) ++line;
  }
  return line;
}

// --- blocks -----------------------------------------------------------------------------------------------------

/// First place at or after `at` where a block may start: behind a line feed that no backslash escapes.
std::uint64_t next_start(std::string_view text, std::uint64_t at) {
  while (at < text.size()) {
    const void* found = std::memchr(text.data() + at, '\n', text.size() - at);
    if (found == nullptr) return text.size();
    const auto lf = static_cast<std::uint64_t>(static_cast<const char*>(found) - text.data());
    const std::uint64_t last = lf > 0 && text[lf - 1] == '\r' ? lf - 1 : lf;
    at = lf + 1;
    if (last == 0 || text[last - 1] != '\\') return at;
  }
  return text.size();
}

std::vector<Block> cut_blocks(std::string_view text) {
  std::vector<Block> blocks;
  std::uint64_t begin = text.starts_with("\xef\xbb\xbf") ? 3 : 0;
  while (begin < text.size()) {
    const std::uint64_t end =
        text.size() - begin <= kBlockBytes ? text.size() : next_start(text, begin + kBlockBytes - 1);
    blocks.emplace_back();
    blocks.back().begin = begin;
    blocks.back().end = end;
    begin = end;
  }
  return blocks;
}

// --- sums over blocks -------------------------------------------------------------------------------------------

/// Elements before a block, or in all of them.
struct Counts {
  std::array<std::int64_t, 3> elements{};  ///< by obj::Counted
  std::uint64_t faces = 0, corners = 0, loose = 0;
};

void add_counts(Counts& counts, const Block& block) {
  counts.elements[obj::kPositions] += static_cast<std::int64_t>(block.positions.size());
  counts.elements[obj::kTexcoords] += static_cast<std::int64_t>(block.texcoords.size());
  counts.elements[obj::kNormals] += static_cast<std::int64_t>(block.normals.size());
  counts.faces += block.face_ends.size();
  counts.corners += block.lists[obj::kCornerPosition].size();
  counts.loose += block.loose.size();
}

/// The first failure in file order: of the text itself, else an index out of range (searched for by a second parse).
Result<void> check_blocks(std::string_view text, const std::string& file, const std::vector<Block>& blocks,
                          const std::vector<Counts>& before) {
  for (const Block& block : blocks) {
    if (block.failure.failed) return bad_input(file, line_at(text, block.failure.at), block.failure.message);
  }
  const Counts& total = before.back();
  constexpr auto kMost = static_cast<std::int64_t>(kNone);
  if (std::max({total.elements[0], total.elements[1], total.elements[2]}) >= kMost ||
      std::max({total.faces, total.corners, total.loose}) >= static_cast<std::uint64_t>(kMost)) {
    return bad_input(file, 0, "more than 4294967294 elements of one kind; split the file");
  }
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    bool good = true;
    for (std::size_t k = 0; k < 3; ++k) {
      good = good && blocks[i].largest[k] < total.elements[k] && blocks[i].lowest[k] + before[i].elements[k] >= 0;
    }
    if (good) continue;
    const obj::IndexCheck check{before[i].elements, total.elements};
    Block again;
    again.begin = blocks[i].begin;
    again.end = blocks[i].end;
    obj::parse_block(text, false, &check, again);
    return bad_input(file, line_at(text, again.failure.at), again.failure.message);
  }
  return {};
}

std::uint64_t memory_needed(std::string_view text, const Counts& total, bool keep_text) {
  const auto positions = static_cast<std::uint64_t>(total.elements[obj::kPositions]);
  const auto texcoords = static_cast<std::uint64_t>(total.elements[obj::kTexcoords]);
  const auto normals = static_cast<std::uint64_t>(total.elements[obj::kNormals]);
  const std::uint64_t offsets = keep_text ? sizeof(std::uint64_t) * (positions + texcoords + normals) : 0;
  return text.size() + offsets + sizeof(Vec3) * (positions + normals) + sizeof(Vec2) * texcoords +
         sizeof(Index) * (total.faces + 3 * total.corners) + (sizeof(LooseElement) + 32) * total.loose;
}

// --- merge ------------------------------------------------------------------------------------------------------

template <class T>
void copy_to(std::vector<T>& to, const std::vector<T>& from, std::size_t at) {
  std::copy(from.begin(), from.end(), to.begin() + static_cast<std::ptrdiff_t>(at));
}

bool any_use(const std::vector<Block>& blocks, const auto& list_of) {
  return std::any_of(blocks.begin(), blocks.end(), [&](const Block& block) { return !list_of(block).empty(); });
}

void make_room(const std::vector<Block>& blocks, const Counts& total, bool keep_text, SourceMesh& mesh,
               SourceText& text) {
  constexpr double kAbsent = std::numeric_limits<double>::quiet_NaN();
  const auto positions = static_cast<std::size_t>(total.elements[obj::kPositions]);
  const auto texcoords = static_cast<std::size_t>(total.elements[obj::kTexcoords]);
  const auto normals = static_cast<std::size_t>(total.elements[obj::kNormals]);
  mesh.positions.resize(positions);
  mesh.texcoords.resize(texcoords);
  mesh.normals.resize(normals);
  mesh.face_offsets.resize(total.faces + 1);
  mesh.corner_position.resize(total.corners);
  if (any_use(
          blocks, [](const Block& b) -> auto& { return b.lists[obj::kCornerTexcoord]; })) {
    mesh.corner_texcoord.assign(total.corners, kNone);
  }
  if (any_use(
          blocks, [](const Block& b) -> auto& { return b.lists[obj::kCornerNormal]; })) {
    mesh.corner_normal.assign(total.corners, kNone);
  }
  if (any_use(
          blocks, [](const Block& b) -> auto& { return b.position_weights; })) {
    mesh.position_weights.assign(positions, kAbsent);
  }
  if (any_use(
          blocks, [](const Block& b) -> auto& { return b.colours; })) {
    mesh.colours.assign(positions, {kAbsent, kAbsent, kAbsent});
  }
  if (any_use(
          blocks, [](const Block& b) -> auto& { return b.colour_alpha; })) {
    mesh.colour_alpha.assign(positions, kAbsent);
  }
  if (any_use(
          blocks, [](const Block& b) -> auto& { return b.texcoord_w; })) {
    mesh.texcoord_w.assign(texcoords, kAbsent);
  }
  if (keep_text) {
    text.position_at.resize(positions);
    text.texcoord_at.resize(texcoords);
    text.normal_at.resize(normals);
  }
}

/// Turns the block's relative indices into absolute ones.
void make_absolute(Block& block, const Counts& before) {
  for (std::size_t list = 0; list < block.lists.size(); ++list) {
    const std::int64_t base = before.elements[obj::kCountedBy[list]];
    for (const Index slot : block.relative[list]) {
      Index& index = block.lists[list][slot];
      index = static_cast<Index>(base + static_cast<std::int32_t>(index));
    }
  }
}

/// Copies everything but states and loose elements into its place.
void merge_block(Block& block, const Counts& before, bool keep_text, SourceMesh& mesh, SourceText& text) {
  make_absolute(block, before);
  const auto positions = static_cast<std::size_t>(before.elements[obj::kPositions]);
  const auto texcoords = static_cast<std::size_t>(before.elements[obj::kTexcoords]);
  const auto normals = static_cast<std::size_t>(before.elements[obj::kNormals]);
  copy_to(mesh.positions, block.positions, positions);
  copy_to(mesh.texcoords, block.texcoords, texcoords);
  copy_to(mesh.normals, block.normals, normals);
  if (!block.position_weights.empty()) copy_to(mesh.position_weights, block.position_weights, positions);
  if (!block.colours.empty()) copy_to(mesh.colours, block.colours, positions);
  if (!block.colour_alpha.empty()) copy_to(mesh.colour_alpha, block.colour_alpha, positions);
  if (!block.texcoord_w.empty()) copy_to(mesh.texcoord_w, block.texcoord_w, texcoords);
  const std::vector<Index>& texcoord = block.lists[obj::kCornerTexcoord];
  const std::vector<Index>& normal = block.lists[obj::kCornerNormal];
  copy_to(mesh.corner_position, block.lists[obj::kCornerPosition], before.corners);
  if (!texcoord.empty()) copy_to(mesh.corner_texcoord, texcoord, before.corners);
  if (!normal.empty()) copy_to(mesh.corner_normal, normal, before.corners);
  for (std::size_t i = 0; i < block.face_ends.size(); ++i) {
    mesh.face_offsets[before.faces + i + 1] = static_cast<Index>(before.corners + block.face_ends[i]);
  }
  if (keep_text) {
    copy_to(text.position_at, block.position_at, positions);
    copy_to(text.texcoord_at, block.texcoord_at, texcoords);
    copy_to(text.normal_at, block.normal_at, normals);
  }
}

/// Names on one `mtllib` line: each ends with ".mtl" at a blank; what is left over is one more.
std::vector<std::string> library_names(const std::string& rest) {
  const auto ends_a_name = [&](std::size_t at) {
    constexpr std::string_view kEnding = ".mtl";
    if (at < kEnding.size()) return false;
    for (std::size_t i = 0; i < kEnding.size(); ++i) {
      const char c = rest[at - kEnding.size() + i];
      if ((c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c) != kEnding[i]) return false;
    }
    return true;
  };
  std::vector<std::string> names;
  std::size_t first = 0;
  for (std::size_t at = 0; at <= rest.size(); ++at) {
    const bool last = at == rest.size();
    if (!last && (!obj::is_blank(rest[at]) || !ends_a_name(at))) continue;
    std::string name = obj::name_from(std::string_view(rest).substr(first, at - first));
    if (!name.empty()) names.push_back(std::move(name));
    first = at;
  }
  return names;
}

struct StateMerge {
  SourceMesh& mesh;
  NameTable objects{mesh.objects}, groups{mesh.groups}, smoothings{mesh.smoothings}, materials{mesh.materials},
      libraries{mesh.material_libraries};
  FaceState state{};

  void apply(const obj::StateEvent& event, Index face) {
    std::string name = obj::name_from(event.rest);
    switch (event.kind) {
      case obj::Event::Object:
        state.object = objects.add(std::move(name));
        break;
      case obj::Event::Group:
        state.group = groups.add(std::move(name));
        break;
      case obj::Event::Smoothing:
        state.smoothing = smoothings.add(std::move(name));
        break;
      case obj::Event::Material:
        state.material = materials.add(std::move(name));
        break;
      case obj::Event::Library:
        for (std::string& library : library_names(name)) libraries.add(std::move(library));
        return;
    }
    std::vector<StateRun>& runs = mesh.states;
    if (!runs.empty() && runs.back().first_face == face) runs.pop_back();
    if (state != (runs.empty() ? FaceState{} : runs.back().state)) runs.push_back({face, state});
  }
};

void merge_states(const std::vector<Block>& blocks, const std::vector<Counts>& before, SourceMesh& mesh) {
  StateMerge merge{mesh};
  mesh.loose.reserve(before.back().loose);
  for (std::size_t b = 0; b < blocks.size(); ++b) {
    const Block& block = blocks[b];
    const auto face_base = static_cast<Index>(before[b].faces);
    std::size_t event = 0;
    for (std::size_t i = 0; i <= block.loose.size(); ++i) {
      for (; event < block.events.size() && block.events[event].loose == i; ++event) {
        merge.apply(block.events[event], face_base + block.events[event].face);
      }
      if (i == block.loose.size()) break;
      const obj::LooseItem& item = block.loose[i];
      const auto slice = [&](const std::vector<Index>& list) {
        const auto first = list.begin() + static_cast<std::ptrdiff_t>(item.first);
        return std::vector<Index>(first, first + static_cast<std::ptrdiff_t>(item.count));
      };
      LooseElement element{item.kind, slice(block.lists[obj::kLooseVertex]), {}, face_base + item.face, merge.state};
      if (!block.lists[obj::kLooseTexcoord].empty()) {
        element.texcoords = slice(block.lists[obj::kLooseTexcoord]);
        const bool none =
            std::all_of(element.texcoords.begin(), element.texcoords.end(), [](Index i_t) { return i_t == kNone; });
        if (none) element.texcoords.clear();
      }
      mesh.loose.push_back(std::move(element));
    }
  }
  while (!mesh.states.empty() && mesh.states.back().first_face >= before.back().faces) mesh.states.pop_back();
}

void report_left_out(std::string_view text, const std::string& file, const std::vector<Block>& blocks, Report& report) {
  struct Kind {
    const char* code;
    Severity severity;
    const char* message;
  };
  static constexpr Kind kKinds[obj::kLeftOutKinds] = {
      {"obj-free-form", Severity::Warning,
       " is a free-form statement (curve or surface); it is left out, export such parts as polygons"},
      {"obj-display", Severity::Note, " is a display attribute; it is left out"},
      {"obj-unknown", Severity::Warning, " is not a known statement; it is left out, check that nothing is missing"}};
  for (std::size_t kind = 0; kind < obj::kLeftOutKinds; ++kind) {
    std::uint64_t count = 0;
    const obj::LeftOutCount* first = nullptr;
    for (const Block& block : blocks) {
      const obj::LeftOutCount& here = block.left_out[kind];
      if (here.count != 0 && first == nullptr) first = &here;
      count += here.count;
    }
    if (first == nullptr) continue;
    add(report, {kKinds[kind].severity, kKinds[kind].code, first->keyword + kKinds[kind].message, file,
                 line_at(text, first->first_at), count});
  }
}

/// Text of which no statement is known is something else than OBJ.
Result<void> check_is_obj(std::string_view text, const std::string& file, const std::vector<Block>& blocks) {
  std::uint64_t known = 0;
  const obj::LeftOutCount* first = nullptr;
  for (const Block& block : blocks) {
    const obj::LeftOutCount& unknown = block.left_out[obj::kUnknown];
    known += block.statements - unknown.count;
    if (first == nullptr && unknown.count != 0) first = &unknown;
  }
  if (first == nullptr || known != 0) return {};
  return bad_input(file, line_at(text, first->first_at),
                   "not an OBJ file: no statement in it is known, the first is " + first->keyword +
                       "; export the garment as Wavefront OBJ text");
}

Result<SourceMesh> parse_text(std::shared_ptr<const void> owner, std::string_view text, const std::string& file,
                              const ObjReadOptions& options, Report& report) {
  std::vector<Block> blocks = cut_blocks(text);
  for_ranges(options.executor, blocks.size(), 1, [&](std::size_t first, std::size_t last) {
    for (std::size_t i = first; i < last; ++i) obj::parse_block(text, options.keep_text, nullptr, blocks[i]);
  });
  std::vector<Counts> before(blocks.size() + 1);
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    before[i + 1] = before[i];
    add_counts(before[i + 1], blocks[i]);
  }
  if (Result<void> good = check_blocks(text, file, blocks, before); !good) return good.error();
  if (Result<void> good = check_is_obj(text, file, blocks); !good) return good.error();
  const std::uint64_t memory = memory_needed(text, before.back(), options.keep_text);
  if (options.max_memory_bytes != 0 && memory > options.max_memory_bytes) {
    return bad_input(file, 0,
                     "needs " + std::to_string(memory >> 20) + " MiB, more than the limit of " +
                         std::to_string(options.max_memory_bytes >> 20) + " MiB; raise the limit");
  }
  SourceMesh mesh;
  mesh.file = file;
  auto source = std::make_shared<SourceText>();
  make_room(blocks, before.back(), options.keep_text, mesh, *source);
  for_ranges(options.executor, blocks.size(), 1, [&](std::size_t first, std::size_t last) {
    for (std::size_t i = first; i < last; ++i) merge_block(blocks[i], before[i], options.keep_text, mesh, *source);
  });
  merge_states(blocks, before, mesh);
  report_left_out(text, file, blocks, report);
  if (options.keep_text) {
    source->owner = std::move(owner);
    source->bytes = text;
    mesh.text = std::move(source);
  }
  return mesh;
}

// --- files ------------------------------------------------------------------------------------------------------

struct FileCloser {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, FileCloser>;

/// Unbuffered: whole blocks go straight to where they belong.
File open_unbuffered(const std::filesystem::path& path) {
  File file(std::fopen(path.c_str(), "rb"));
  if (file != nullptr) std::setvbuf(file.get(), nullptr, _IONBF, 0);
  return file;
}

/// A source without a size (a pipe): read until it ends.
Result<std::string> read_stream(const std::filesystem::path& path, std::uint64_t max_bytes) {
  const File file = open_unbuffered(path);
  if (file == nullptr) return bad_input(path.string(), 0, "cannot be opened; check the name and the permissions");
  std::string text;
  std::vector<char> part(kReadBytes);
  for (;;) {
    const std::size_t got = std::fread(part.data(), 1, part.size(), file.get());
    text.append(part.data(), got);
    if (max_bytes != 0 && text.size() > max_bytes) break;
    if (got < part.size()) break;
  }
  if (std::ferror(file.get()) != 0) return bad_input(path.string(), 0, "cannot be read to its end; check the disk");
  return text;
}

}  // namespace

Result<SourceMesh> read_obj(const std::filesystem::path& path, const ObjReadOptions& options, Report& report) {
  const std::string name = path.string();
  std::error_code problem;
  const std::filesystem::file_status status = std::filesystem::status(path, problem);
  if (!std::filesystem::exists(status)) return bad_input(name, 0, "does not exist; check the name");
  if (std::filesystem::is_directory(status)) return bad_input(name, 0, "is a folder; name the OBJ file in it");
  if (!std::filesystem::is_regular_file(status)) {
    Result<std::string> text = read_stream(path, options.max_memory_bytes);
    if (!text) return text.error();
    return parse_obj(std::move(*text), name, options, report);
  }
  const std::uint64_t size = std::filesystem::file_size(path, problem);
  if (problem) return bad_input(name, 0, "cannot be read: " + problem.message());
  if (options.max_memory_bytes != 0 && size > options.max_memory_bytes) {
    return bad_input(name, 0,
                     "has " + std::to_string(size >> 20) + " MiB, more than the limit of " +
                         std::to_string(options.max_memory_bytes >> 20) + " MiB; raise the limit");
  }
  // Not a string: that would write zeros over everything first.
  std::shared_ptr<char[]> bytes(new char[size + 1]);
  std::vector<std::uint8_t> failed((size + kReadBytes - 1) / kReadBytes + 1, 0);
  for_ranges(options.executor, size, kReadBytes, [&](std::size_t first, std::size_t last) {
    const File file = open_unbuffered(path);
    const bool good = file != nullptr && std::fseek(file.get(), static_cast<long>(first), SEEK_SET) == 0 &&
                      std::fread(bytes.get() + first, 1, last - first, file.get()) == last - first;
    failed[first / kReadBytes] = good ? 0 : 1;
  });
  if (std::any_of(failed.begin(), failed.end(), [](std::uint8_t f) { return f != 0; })) {
    return bad_input(name, 0, "cannot be read to its end; check the permissions and that nothing writes to it");
  }
  bytes[static_cast<std::ptrdiff_t>(size)] = '\0';
  const std::string_view text(bytes.get(), size);
  return parse_text(std::move(bytes), text, name, options, report);
}

Result<SourceMesh> parse_obj(std::string text, const std::string& file, const ObjReadOptions& options, Report& report) {
  auto owner = std::make_shared<const std::string>(std::move(text));
  const std::string_view bytes(*owner);
  return parse_text(std::move(owner), bytes, file, options, report);
}

}  // namespace trimtack
