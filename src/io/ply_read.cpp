// SPDX-License-Identifier: MIT
// Turk 1994, "The PLY Polygon File Format" (the text shipped with the first PLY tools). The names s/t, u/v and
// texture_u/texture_v for texture coordinates are common practice.
#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <limits>
#include <utility>
#include <vector>

#include "io/ply_header.hpp"
#include "trimtack/io/file_set.hpp"
#include "trimtack/io/ply.hpp"

namespace trimtack {
namespace {

using namespace ply;

template <class T>
T load(const char* at, bool swap) {
  std::array<char, sizeof(T)> bytes;
  std::memcpy(bytes.data(), at, sizeof(T));
  if (swap) std::reverse(bytes.begin(), bytes.end());
  return std::bit_cast<T>(bytes);
}

// Calls fn with a zero of the C++ type that `type` stands for.
template <class Fn>
auto with_type(Type type, Fn&& fn) {
  switch (type) {
    case Type::I8:
      return fn(std::int8_t{});
    case Type::U8:
      return fn(std::uint8_t{});
    case Type::I16:
      return fn(std::int16_t{});
    case Type::U16:
      return fn(std::uint16_t{});
    case Type::I32:
      return fn(std::int32_t{});
    case Type::U32:
      return fn(std::uint32_t{});
    case Type::F32:
      return fn(float{});
    default:
      return fn(double{});
  }
}

// Values of the data part, one after the other, as doubles (every PLY type fits a double exactly).
class Values {
 public:
  Values(std::string_view bytes, const Header& header)
      : at_(bytes.data() + header.data_offset),
        end_(bytes.data() + bytes.size()),
        line_(header.lines + 1),
        format_(header.format) {}

  bool next(Type type, double& out) {
    if (format_ == Format::Ascii) return next_text(out);
    const std::size_t size = bytes_of(type);
    if (left() < size) return false;
    out = with_type(type, [&](auto zero) { return static_cast<double>(load<decltype(zero)>(at_, swap())); });
    at_ += size;
    return true;
  }
  /// The next bytes as a block of the binary formats; null when there are fewer.
  const char* block(std::uint64_t size) {
    if (left() < size) return nullptr;
    return std::exchange(at_, at_ + size);
  }
  std::size_t left() const { return static_cast<std::size_t>(end_ - at_); }
  bool ascii() const { return format_ == Format::Ascii; }
  bool swap() const { return (format_ == Format::Big) == (std::endian::native == std::endian::little); }
  std::uint64_t line() const { return ascii() ? line_ : 0; }
  bool only_space_left() {
    if (ascii()) skip_space();
    return at_ == end_;
  }

 private:
  void skip_space() {
    for (; at_ != end_ && (*at_ == ' ' || *at_ == '\n' || *at_ == '\r' || *at_ == '\t'); ++at_) line_ += *at_ == '\n';
  }
  bool next_text(double& out) {
    skip_space();
    if (at_ != end_ && *at_ == '+') ++at_;
    const auto parsed = std::from_chars(at_, end_, out);
    // Out of a double's range: the nearest finite answer does not exist, so it counts as unreadable.
    if (parsed.ec != std::errc{}) return false;
    at_ = parsed.ptr;
    return at_ == end_ || *at_ == ' ' || *at_ == '\n' || *at_ == '\r' || *at_ == '\t';
  }

  const char* at_;
  const char* end_;
  std::uint64_t line_;
  Format format_;
};

// Where a vertex property goes in the mesh.
enum class Slot : std::uint8_t { None, X, Y, Z, NormalX, NormalY, NormalZ, U, V, Red, Green, Blue };
constexpr std::size_t kSlots = 12;

Slot slot_named(std::string_view name) {
  static constexpr std::array<std::pair<std::string_view, Slot>, 15> kSlotNames{{{"x", Slot::X},
                                                                                 {"y", Slot::Y},
                                                                                 {"z", Slot::Z},
                                                                                 {"nx", Slot::NormalX},
                                                                                 {"ny", Slot::NormalY},
                                                                                 {"nz", Slot::NormalZ},
                                                                                 {"u", Slot::U},
                                                                                 {"v", Slot::V},
                                                                                 {"s", Slot::U},
                                                                                 {"t", Slot::V},
                                                                                 {"texture_u", Slot::U},
                                                                                 {"texture_v", Slot::V},
                                                                                 {"red", Slot::Red},
                                                                                 {"green", Slot::Green},
                                                                                 {"blue", Slot::Blue}}};
  for (const auto& [known, slot] : kSlotNames) {
    if (name == known) return slot;
  }
  return Slot::None;
}

class Reader {
 public:
  Reader(std::string_view bytes, const std::string& file, const PlyReadOptions& options, Report& report)
      : bytes_(bytes), file_(file), options_(options), report_(report) {}

  Result<SourceMesh> read() {
    Result<Header> header = read_header(bytes_, file_);
    if (!header) return header.error();
    const auto vertex = std::find_if(header->elements.begin(), header->elements.end(),
                                     [](const Element& e) { return e.name == "vertex"; });
    if (vertex == header->elements.end()) return wrong("has no element 'vertex'");
    vertex_count_ = vertex->count;
    mesh_.file = file_;
    Values values(bytes_, *header);
    for (const Element& element : header->elements) {
      const std::string message = read_element(element, values);
      if (!message.empty()) return bad_ply(file_, values.line(), message);
      if (element.name == "vertex") {
        const auto& points = mesh_.positions;
        const auto stray = std::find_if_not(points.begin(), points.end(), [](const Vec3& p) { return is_finite(p); });
        if (stray != points.end()) return wrong("vertex " + std::to_string(stray - points.begin()) + " is not finite");
      }
      if (!options_.faces && element.name == "vertex") return std::move(mesh_);
    }
    if (!values.only_space_left()) {
      return wrong("has " + std::to_string(values.left()) + " bytes left over behind the last element");
    }
    if (has_normals_) mesh_.corner_normal = mesh_.corner_position;
    if (has_texcoords_) mesh_.corner_texcoord = mesh_.corner_position;
    return std::move(mesh_);
  }

 private:
  Error wrong(std::string message) const { return bad_ply(file_, 0, std::move(message)); }

  // The least room that one row can take: a claim beyond the file's length is refused before memory is taken.
  static std::uint64_t least_bytes(const Element& element, bool ascii) {
    std::uint64_t bytes = 0;
    for (const Property& p : element.properties) bytes += ascii ? 2 : bytes_of(p.list ? p.count_type : p.type);
    return bytes;
  }

  std::string read_element(const Element& element, Values& values) {
    const std::uint64_t least = least_bytes(element, values.ascii());
    const std::uint64_t room = values.left() + (values.ascii() ? 1 : 0);  // the last line end may be missing
    const std::string label = "element '" + element.name.substr(0, 40) + "'";
    if (least != 0 && element.count > room / least) {
      return label + " claims " + std::to_string(element.count) + " rows, but the file is too short for them";
    }
    if (element.count > std::uint64_t{kNone} - 1) return label + " claims more than 4294967294 rows";
    if (element.name == "vertex") return read_vertices(element, values);
    if (element.name == "face" && options_.faces) return read_faces(element, values);
    note_skipped(label);
    if (least == 0) return {};
    for (std::uint64_t row = 0; row < element.count; ++row) {
      for (const Property& p : element.properties) {
        const std::string message = skip(p, values);
        if (!message.empty()) return label + ", row " + std::to_string(row) + ": " + message;
      }
    }
    return {};
  }

  void note_skipped(const std::string& what) {
    add(report_, {Severity::Note, "ply-skipped", what + " is not used by trimtack and was skipped", file_, 0, 1});
  }

  static std::string next_count(const Property& p, Values& values, std::uint64_t& count) {
    double number = 0;
    if (!values.next(p.count_type, number)) return "the data end or are no number";
    if (!(number >= 0) || number != std::floor(number)) return "a list's length is negative or not whole";
    // Each item takes at least one byte (ASCII: two, but for the last of the file).
    const std::uint64_t room = values.ascii() ? values.left() / 2 + 1 : values.left() / bytes_of(p.type);
    if (number > static_cast<double>(room)) return "a list is longer than the rest of the file";
    count = static_cast<std::uint64_t>(number);
    return {};
  }

  static std::string skip(const Property& p, Values& values) {
    std::uint64_t count = 1;
    if (p.list) {
      std::string message = next_count(p, values, count);
      if (!message.empty()) return message;
    }
    if (!values.ascii()) return values.block(count * bytes_of(p.type)) != nullptr ? "" : "the data end";
    double ignored = 0;
    for (std::uint64_t i = 0; i < count; ++i) {
      if (!values.next(p.type, ignored)) return "the data end or are no number";
    }
    return {};
  }

  std::string read_vertices(const Element& element, Values& values) {
    std::array<const Property*, kSlots> used{};
    for (const Property& p : element.properties) {
      const Slot slot = p.list ? Slot::None : slot_named(p.name);
      const Property*& at = used[static_cast<std::size_t>(slot)];
      if (slot == Slot::None) note_skipped("vertex property '" + p.name.substr(0, 40) + "'");
      if (at == nullptr) at = &p;
    }
    const auto has = [&](Slot first, std::size_t count) {
      const auto begin = used.begin() + static_cast<std::ptrdiff_t>(first);
      return std::all_of(begin, begin + static_cast<std::ptrdiff_t>(count),
                         [](const Property* p) { return p != nullptr; });
    };
    if (!has(Slot::X, 3)) return "element 'vertex' lacks x, y or z";
    const bool extras = options_.faces;
    has_normals_ = extras && has(Slot::NormalX, 3);
    has_texcoords_ = extras && has(Slot::U, 2);
    const bool has_colours = extras && has(Slot::Red, 3);
    const std::uint64_t item_bytes =
        sizeof(Vec3) * (1 + (has_normals_ ? 1 : 0) + (has_colours ? 1 : 0)) + (has_texcoords_ ? sizeof(Vec2) : 0);
    if (options_.max_memory_bytes != 0 && element.count > options_.max_memory_bytes / item_bytes) {
      return "the vertices need more memory than the limit allows; raise the limit";
    }
    const auto count = static_cast<std::size_t>(element.count);
    mesh_.positions.resize(count);
    if (has_normals_) mesh_.normals.resize(count);
    if (has_texcoords_) mesh_.texcoords.resize(count);
    if (has_colours) mesh_.colours.resize(count);
    if (element.has_list() || values.ascii()) return read_vertex_rows(element, used, values);
    return read_vertex_columns(element, used, values);
  }

  // A vertex's number that belongs to a slot; null when the mesh does not keep it.
  double* target(Slot slot, std::size_t vertex) {
    const int axis = static_cast<int>(slot);
    if (slot >= Slot::X && slot <= Slot::Z) return &mesh_.positions[vertex][axis - static_cast<int>(Slot::X)];
    if (slot >= Slot::NormalX && slot <= Slot::NormalZ) {
      return has_normals_ ? &mesh_.normals[vertex][axis - static_cast<int>(Slot::NormalX)] : nullptr;
    }
    if (slot == Slot::U) return has_texcoords_ ? &mesh_.texcoords[vertex].x : nullptr;
    if (slot == Slot::V) return has_texcoords_ ? &mesh_.texcoords[vertex].y : nullptr;
    if (slot == Slot::None || mesh_.colours.empty()) return nullptr;
    return &mesh_.colours[vertex][axis - static_cast<int>(Slot::Red)];
  }
  // Whole-number colours count to their type's maximum.
  static double colour_scale(Slot slot, Type type) {
    if (slot < Slot::Red || type >= Type::F32) return 1;
    return with_type(type, [](auto zero) { return static_cast<double>(std::numeric_limits<decltype(zero)>::max()); });
  }

  std::string read_vertex_rows(const Element& element, const std::array<const Property*, kSlots>& used,
                               Values& values) {
    for (std::size_t vertex = 0; vertex < element.count; ++vertex) {
      for (const Property& p : element.properties) {
        const Slot slot = p.list ? Slot::None : slot_named(p.name);
        double* out = used[static_cast<std::size_t>(slot)] == &p ? target(slot, vertex) : nullptr;
        double number = 0;
        if (p.list) {
          const std::string message = skip(p, values);
          if (!message.empty()) return "vertex " + std::to_string(vertex) + ": " + message;
        } else if (!values.next(p.type, number)) {
          return "vertex " + std::to_string(vertex) + ": the data end or are no number";
        }
        if (out != nullptr) *out = number / colour_scale(slot, p.type);
      }
    }
    return {};
  }

  std::string read_vertex_columns(const Element& element, const std::array<const Property*, kSlots>& used,
                                  Values& values) {
    const std::uint64_t stride = least_bytes(element, false);
    const char* block = values.block(element.count * stride);
    if (block == nullptr) return "the vertices' data end early";
    if (element.count == 0) return {};
    std::size_t offset = 0;
    for (const Property& p : element.properties) {
      const Slot slot = slot_named(p.name);
      double* out = used[static_cast<std::size_t>(slot)] == &p ? target(slot, 0) : nullptr;
      if (out != nullptr) {
        const std::size_t step = slot == Slot::U || slot == Slot::V ? 2 : 3;
        const double scale = colour_scale(slot, p.type);
        with_type(p.type, [&](auto zero) {
          for (std::size_t i = 0; i < element.count; ++i) {
            out[i * step] =
                static_cast<double>(load<decltype(zero)>(block + offset + i * stride, values.swap())) / scale;
          }
        });
      }
      offset += bytes_of(p.type);
    }
    return {};
  }

  std::string read_faces(const Element& element, Values& values) {
    std::size_t lists = 0;
    for (const Property& p : element.properties) lists += is_corners(p) ? 1 : 0;
    if (lists != 1) return "element 'face' needs one list vertex_indices (or vertex_index)";
    // Rooms for three corners a face is what a memory limit can be checked against before the data are seen.
    if (options_.max_memory_bytes != 0 && element.count > options_.max_memory_bytes / (4 * sizeof(Index))) {
      return "the faces need more memory than the limit allows; raise the limit";
    }
    mesh_.face_offsets.reserve(element.count + 1);
    for (const Property& p : element.properties) {
      if (!is_corners(p)) note_skipped("face property '" + p.name.substr(0, 40) + "'");
    }
    for (std::uint64_t face = 0; face < element.count; ++face) {
      for (const Property& p : element.properties) {
        const std::string message = is_corners(p) ? read_corners(p, values) : skip(p, values);
        if (!message.empty()) return "face " + std::to_string(face) + ": " + message;
      }
    }
    return {};
  }

  static bool is_corners(const Property& p) {
    return p.list && (p.name == "vertex_indices" || p.name == "vertex_index");
  }

  std::string read_corners(const Property& p, Values& values) {
    std::uint64_t count = 0;
    std::string message = next_count(p, values, count);
    if (!message.empty()) return message;
    if (count < 3) return "has " + std::to_string(count) + " corners; a face needs at least 3";
    if (mesh_.corner_position.size() + count >= kNone) return "the file has more than 4294967294 corners";
    for (std::uint64_t i = 0; i < count; ++i) {
      double number = 0;
      if (!values.next(p.type, number)) return "the data end or are no number";
      if (!(number >= 0 && number < static_cast<double>(vertex_count_)) || number != std::floor(number)) {
        return "corner " + std::to_string(i) + " names a vertex that does not exist: the file has " +
               std::to_string(vertex_count_) + ", counted from 0";
      }
      mesh_.corner_position.push_back(static_cast<Index>(number));
    }
    mesh_.face_offsets.push_back(static_cast<Index>(mesh_.corner_position.size()));
    return {};
  }

  std::string_view bytes_;
  const std::string& file_;
  const PlyReadOptions& options_;
  Report& report_;
  SourceMesh mesh_;
  std::uint64_t vertex_count_ = 0;
  bool has_normals_ = false, has_texcoords_ = false;
};

}  // namespace

Result<SourceMesh> parse_ply(std::string_view bytes, const std::string& file, const PlyReadOptions& options,
                             Report& report) {
  return Reader(bytes, file, options, report).read();
}

Result<SourceMesh> read_ply(const std::filesystem::path& path, const PlyReadOptions& options, Report& report) {
  const Result<std::string> bytes = read_file(path, options.max_memory_bytes);
  if (!bytes) return bytes.error();
  return parse_ply(*bytes, path.string(), options, report);
}

}  // namespace trimtack
