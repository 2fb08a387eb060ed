// SPDX-License-Identifier: MIT
#include "trimtack/mesh.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <limits>
#include <utility>

namespace trimtack {
namespace {

bool same_bits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b) || (std::isnan(a) && std::isnan(b));
}
bool same_bits(const Vec2& a, const Vec2& b) { return same_bits(a.x, b.x) && same_bits(a.y, b.y); }
bool same_bits(const Vec3& a, const Vec3& b) {
  return same_bits(a.x, b.x) && same_bits(a.y, b.y) && same_bits(a.z, b.z);
}
bool same_bits(Index a, Index b) { return a == b; }

bool differ(std::string* where, std::string text) {
  if (where != nullptr) *where = std::move(text);
  return false;
}

template <class T>
bool same_list(const std::vector<T>& a, const std::vector<T>& b, const char* what, std::string* where) {
  if (a.size() != b.size()) {
    return differ(
        where, std::string(what) + ": " + std::to_string(a.size()) + " here, " + std::to_string(b.size()) + " there");
  }
  if (!a.empty() && std::memcmp(a.data(), b.data(), a.size() * sizeof(T)) == 0) return true;
  for (std::size_t i = 0; i < a.size(); ++i) {
    if (!same_bits(a[i], b[i])) return differ(where, std::string(what) + " " + std::to_string(i) + " differs");
  }
  return true;
}

/// Like same_list, but a list that is empty stands for `count` times `absent`.
template <class T>
bool same_optional(const std::vector<T>& a, const std::vector<T>& b, const T& absent, const char* what,
                   std::string* where) {
  if (a.empty() == b.empty()) return same_list(a, b, what, where);
  const std::vector<T>& full = a.empty() ? b : a;
  for (std::size_t i = 0; i < full.size(); ++i) {
    if (!same_bits(full[i], absent)) {
      return differ(where, std::string(what) + " " + std::to_string(i) + " is there in one mesh only");
    }
  }
  return true;
}

std::string_view name_of(const std::vector<std::string>& table, Index i) {
  return i == kNone ? std::string_view() : std::string_view(table[i]);
}

bool same_state(const SourceMesh& a, const FaceState& s, const SourceMesh& b, const FaceState& t) {
  return name_of(a.objects, s.object) == name_of(b.objects, t.object) &&
         name_of(a.groups, s.group) == name_of(b.groups, t.group) &&
         name_of(a.smoothings, s.smoothing) == name_of(b.smoothings, t.smoothing) &&
         name_of(a.materials, s.material) == name_of(b.materials, t.material);
}

bool same_states(const SourceMesh& a, const SourceMesh& b, std::string* where) {
  std::size_t i = 0;
  std::size_t j = 0;
  FaceState s;
  FaceState t;
  // Walks both run lists; between two starts the states are constant.
  for (Index face = 0; face < a.face_count();) {
    while (i < a.states.size() && a.states[i].first_face <= face) s = a.states[i++].state;
    while (j < b.states.size() && b.states[j].first_face <= face) t = b.states[j++].state;
    if (!same_state(a, s, b, t)) {
      return differ(where, "face " + std::to_string(face) + " has another object, group, smoothing group or material");
    }
    Index next = a.face_count();
    if (i < a.states.size()) next = std::min(next, a.states[i].first_face);
    if (j < b.states.size()) next = std::min(next, b.states[j].first_face);
    face = next;
  }
  return true;
}

bool same_loose(const SourceMesh& a, const SourceMesh& b, std::string* where) {
  if (a.loose.size() != b.loose.size()) {
    return differ(where, "loose elements: " + std::to_string(a.loose.size()) + " here, " +
                             std::to_string(b.loose.size()) + " there");
  }
  for (std::size_t i = 0; i < a.loose.size(); ++i) {
    const LooseElement& e = a.loose[i];
    const LooseElement& f = b.loose[i];
    const bool same = e.kind == f.kind && e.before_face == f.before_face && e.vertices == f.vertices &&
                      same_optional(e.texcoords, f.texcoords, kNone, "", nullptr) && same_state(a, e.state, b, f.state);
    if (!same) return differ(where, "loose element " + std::to_string(i) + " differs");
  }
  return true;
}

}  // namespace

void forget_position_text(SourceMesh& mesh) {
  if (mesh.text == nullptr) return;
  auto text = std::make_shared<SourceText>(*mesh.text);
  text->count[0] = 0;
  mesh.text = std::move(text);
}

void set_positions(SourceMesh& mesh, std::vector<Vec3> positions) {
  mesh.positions = std::move(positions);
  forget_position_text(mesh);
}

std::size_t normal_count(const SourceMesh& mesh) {
  return mesh.normals.empty() && mesh.text != nullptr ? mesh.text->count[2] : mesh.normals.size();
}

FaceState state_of(const SourceMesh& mesh, Index face) {
  const auto after = std::upper_bound(mesh.states.begin(), mesh.states.end(), face,
                                      [](Index f, const StateRun& run) { return f < run.first_face; });
  return after == mesh.states.begin() ? FaceState{} : std::prev(after)->state;
}

bool same_content(const SourceMesh& a, const SourceMesh& b, std::string* where) {
  constexpr double kAbsent = std::numeric_limits<double>::quiet_NaN();
  return same_list(a.positions, b.positions, "position", where) &&
         same_optional(a.position_weights, b.position_weights, kAbsent, "position weight", where) &&
         same_optional(a.colours, b.colours, Vec3{kAbsent, kAbsent, kAbsent}, "colour", where) &&
         same_optional(a.colour_alpha, b.colour_alpha, kAbsent, "colour alpha", where) &&
         same_list(a.texcoords, b.texcoords, "texture coordinate", where) &&
         same_optional(a.texcoord_w, b.texcoord_w, kAbsent, "third texture coordinate", where) &&
         same_list(a.normals, b.normals, "normal", where) &&
         same_list(a.face_offsets, b.face_offsets, "face offset", where) &&
         same_list(a.corner_position, b.corner_position, "position index of corner", where) &&
         same_optional(a.corner_texcoord, b.corner_texcoord, kNone, "texture index of corner", where) &&
         same_optional(a.corner_normal, b.corner_normal, kNone, "normal index of corner", where) &&
         same_states(a, b, where) && same_loose(a, b, where) &&
         (a.material_libraries == b.material_libraries || differ(where, "the material libraries differ"));
}

FaceView view(const SourceMesh& mesh) { return {mesh.positions, mesh.face_offsets, mesh.corner_position}; }

Box bounds(std::span<const Vec3> points) {
  if (points.empty()) return {};
  Box box{points[0], points[0]};
  for (const Vec3& p : points) {
    box.min = {std::min(box.min.x, p.x), std::min(box.min.y, p.y), std::min(box.min.z, p.z)};
    box.max = {std::max(box.max.x, p.x), std::max(box.max.y, p.y), std::max(box.max.z, p.z)};
  }
  return box;
}

}  // namespace trimtack
