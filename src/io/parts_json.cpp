// SPDX-License-Identifier: MIT
#include "trimtack/io/parts_json.hpp"

#include <algorithm>
#include <array>
#include <numeric>

#include "core/memory.hpp"
#include "io/parts_json_read.hpp"

namespace trimtack {
namespace {

constexpr const char* kRoles[] = {"cloth", "trims", "stitching"};
constexpr const char* kLists[] = {"vertices", "texcoords", "normals", "faces", "loose"};

/// A range and whose it is.
struct Owned {
  IndexRange range;
  Index owner = 0;
};

class Checker {
 public:
  Checker(parts_json::Raw& raw, const std::string& file, std::uint64_t max_items)
      : raw_(raw), file_(file), max_items_(max_items) {}

  Result<PartsFile> run() {
    Parts& parts = raw_.parts;
    if (parts.source_faces > max_items_) return bad("source.faces", "claims more faces than the meshes hold");
    if (parts.source_vertices > max_items_) return bad("source.vertices", "claims more vertices than the meshes hold");
    if (auto checked = check_doubles(); !checked) return checked.error();
    if (auto checked = check_components(); !checked) return checked.error();
    if (auto checked = check_references(); !checked) return checked.error();
    PartsFile result;
    if (auto checked = check_maps(result.maps); !checked) return checked.error();
    result.parts = std::move(parts);
    return result;
  }

 private:
  Error bad(const std::string& path, const std::string& what) const {
    return Error{ErrorCode::BadInput, path + " " + what, file_, 0};
  }

  /// Sorted ranges disjoint, below `count`, and without holes when `covering`? `name(owner)` gives the path.
  template <class Name>
  Result<void> check_ranges(std::vector<Owned>& all, Index count, bool covering, const std::string& where,
                            const Name& name) const {
    std::sort(all.begin(), all.end(), [](const Owned& a, const Owned& b) { return a.range.first < b.range.first; });
    Index next = 0;
    const Owned* before = nullptr;
    for (const Owned& item : all) {
      const std::string first = std::to_string(item.range.first);
      if (item.range.end > count) {
        return bad(name(item.owner),
                   "reaches " + std::to_string(item.range.end) + ", but there are only " + std::to_string(count));
      }
      if (before != nullptr && item.range.first < next) {
        return bad(name(item.owner), "holds " + first + ", which " + name(before->owner) + " holds too");
      }
      if (covering && item.range.first > next) return bad(where, "hold no entry for " + std::to_string(next));
      next = item.range.end;
      before = &item;
    }
    if (covering && next != count) return bad(where, "hold no entry for " + std::to_string(next));
    return {};
  }

  Result<void> check_doubles() const {
    const std::vector<Index>& doubled = raw_.parts.doubled_vertices;
    const Index count = raw_.parts.source_vertices;
    if (doubled.size() > count) return bad("source.doubled_vertices", "are more than all vertices");
    const auto own = static_cast<Index>(count - doubled.size());
    for (std::size_t i = 0; i < doubled.size(); ++i) {
      if (doubled[i] < own) continue;
      return bad("source.doubled_vertices[" + std::to_string(i) + "]",
                 "is " + std::to_string(doubled[i]) + ", but the file has only " + std::to_string(own));
    }
    return {};
  }

  Result<void> check_components() {
    Parts& parts = raw_.parts;
    std::vector<Owned> faces, vertices;
    for (Index i = 0; i < parts.components.size(); ++i) {
      for (const IndexRange& range : parts.components[i].faces) faces.push_back({range, i});
      for (const IndexRange& range : parts.components[i].vertices) vertices.push_back({range, i});
    }
    const auto name = [](const char* list) {
      return [list](Index i) { return "components[" + std::to_string(i) + "]." + list; };
    };
    auto checked = check_ranges(faces, parts.source_faces, true, "the faces of all components", name("faces"));
    if (checked) checked = check_ranges(vertices, parts.source_vertices, false, "", name("vertices"));
    if (!checked) return checked;
    fill(parts.component_of_face, faces, parts.source_faces);
    fill(parts.component_of_vertex, vertices, parts.source_vertices);
    return {};
  }

  static void fill(std::vector<Index>& out, const std::vector<Owned>& ranges, Index count) {
    out = filled_large(count, kNone);
    for (const Owned& item : ranges)
      std::fill(out.begin() + item.range.first, out.begin() + item.range.end, item.owner);
  }

  Result<void> check_references() const {
    const Parts& parts = raw_.parts;
    const auto item = [](const char* list, std::size_t i, const std::string& key) {
      return std::string(list) + "[" + std::to_string(i) + "]." + key;
    };
    const auto known = [](Index id, std::size_t count) { return id == kNone || id < count; };
    for (std::size_t t = 0; t < parts.trims.size(); ++t) {
      const Trim& trim = parts.trims[t];
      for (std::size_t k = 0; k < trim.components.size(); ++k) {
        if (trim.components[k] >= parts.components.size()) {
          return bad(item("trims", t, "components[" + std::to_string(k) + "]"), "is no component");
        }
        const Component& component = parts.components[trim.components[k]];
        if (trim.role == Role::Cloth && component.role != Role::Cloth && component.trim == t) {
          return bad(item("trims", t, "role"), "is \"cloth\", but " + item("components", trim.components[k], "role") +
                                                   " is \"" + to_text(component.role) +
                                                   "\": a trim has the role of its components, change theirs");
        }
      }
      if (!known(trim.prototype, parts.prototypes.size())) return bad(item("trims", t, "prototype"), "is no prototype");
      if (!known(trim.row, parts.rows.size())) return bad(item("trims", t, "row"), "is no row");
    }
    for (std::size_t p = 0; p < parts.prototypes.size(); ++p) {
      if (!known(parts.prototypes[p].trim, parts.trims.size())) return bad(item("prototypes", p, "trim"), "is no trim");
    }
    for (std::size_t r = 0; r < parts.rows.size(); ++r) {
      for (std::size_t k = 0; k < parts.rows[r].trims.size(); ++k) {
        if (parts.rows[r].trims[k] >= parts.trims.size()) {
          return bad(item("rows", r, "trims[" + std::to_string(k) + "]"), "is no trim");
        }
      }
    }
    return {};
  }

  /// Vertices and faces: each in exactly one output. The other lists may share, and are only bounded.
  Result<void> check_maps(SplitMaps& maps) const {
    SubsetMap* const outputs[] = {&maps.cloth, &maps.trims, &maps.stitching};
    for (std::size_t list = 0; list < 5; ++list) {
      std::vector<Owned> all;
      const auto name = [&](Index role) { return std::string("maps.") + kRoles[role] + "." + kLists[list]; };
      for (Index role = 0; role < 3; ++role) {
        for (const IndexRange& range : raw_.maps[role][list]) {
          if (range.end > max_items_ && range.end > raw_.parts.source_vertices) {
            return bad(name(role), "reaches further than the meshes do");
          }
          all.push_back({range, role});
        }
      }
      const std::string where = std::string("the lists maps.*.") + kLists[list];
      Result<void> checked;
      if (list == 0) checked = check_ranges(all, raw_.parts.source_vertices, true, where, name);
      if (list == 3) checked = check_ranges(all, raw_.parts.source_faces, true, where, name);
      if (!checked) return checked;
      for (std::size_t role = 0; role < 3; ++role) expand(raw_.maps[role][list], list_of(*outputs[role], list));
    }
    for (std::size_t role = 0; role < 3; ++role) {
      if (raw_.loose_before_face[role].size() != outputs[role]->loose.size()) {
        return bad(std::string("maps.") + kRoles[role] + ".loose_before_face",
                   "must hold one number per loose element");
      }
      outputs[role]->loose_before_face = std::move(raw_.loose_before_face[role]);
    }
    maps.spanning = std::move(raw_.spanning);
    return {};
  }

  static std::vector<Index>& list_of(SubsetMap& map, std::size_t list) {
    constexpr std::array kMembers{&SubsetMap::positions, &SubsetMap::texcoords, &SubsetMap::normals, &SubsetMap::faces,
                                  &SubsetMap::loose};
    return map.*kMembers[list];
  }

  static void expand(const std::vector<IndexRange>& ranges, std::vector<Index>& out) {
    std::size_t count = 0;
    for (const IndexRange& range : ranges) count += range.end - range.first;
    if (count == 0) return;
    reserve_large(out, count);
    out.resize(count);
    Index* place = out.data();
    for (const IndexRange& range : ranges) {
      std::iota(place, place + (range.end - range.first), range.first);
      place += range.end - range.first;
    }
  }

  parts_json::Raw& raw_;
  const std::string& file_;
  std::uint64_t max_items_;
};

}  // namespace

Result<PartsFile> read_parts_json(std::string_view text, const std::string& file, std::uint64_t max_items) {
  Result<parts_json::Raw> raw = parts_json::read_raw(text, file);
  if (!raw) return raw.error();
  return Checker(*raw, file, max_items).run();
}

}  // namespace trimtack
