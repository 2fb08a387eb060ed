// SPDX-License-Identifier: MIT
// Thinning by a grid: Rossignac and Borrel, "Multi-resolution 3D approximations for rendering complex scenes", 1993,
// with the first vertex of a cell as its representative (so that every pose can be thinned alike).
#include "io/report_mesh.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <map>
#include <numeric>

#include "io/json_text.hpp"

namespace trimtack::report {
namespace {

constexpr std::size_t kClothTriangles = 40'000;
constexpr std::size_t kShotBytes = 3'000'000;  // of all poses together
constexpr std::size_t kPrototypeTriangles = 800;
constexpr std::size_t kAllPrototypeTriangles = 120'000;
constexpr std::size_t kDrawnTriangles = 1'500'000;  // of all copies together, so that a phone turns them smoothly

template <class T>
std::string pack_words(std::span<const T> values) {
  std::vector<std::uint8_t> bytes;
  bytes.reserve(values.size() * sizeof(T));
  for (const T& v : values) {
    for (std::size_t i = 0; i < sizeof(T); ++i) bytes.push_back(static_cast<std::uint8_t>(v >> (8 * i)));
  }
  return base64(bytes);
}

void add_field(std::string& out, const char* name, const std::string& packed) {
  out += '"';
  out += name;
  out += "\":\"";
  out += packed;
  out += "\"";
}

/// Rest of the prototype's own trim -> rest of a copy, as 3x4 numbers, rows first.
std::array<float, 12> copy_matrix(const Trim& own, const Trim& copy) {
  // placement * (mirror along x, scale): the prototype's coordinates are those of its own trim's placement.
  const Pose back = inverse(own.placement);
  const double s = copy.scale / (own.scale > 0 ? own.scale : 1);
  const double flip = copy.mirrored != own.mirrored ? -s : s;
  Mat3 shape;
  shape.m = {flip, 0, 0, 0, s, 0, 0, 0, s};
  const Mat3 linear = copy.placement.rotation * shape * back.rotation;
  const Vec3 move = copy.placement.rotation * (shape * back.translation) + copy.placement.translation;
  std::array<float, 12> m{};
  std::size_t at = 0;
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c) m[at++] = static_cast<float>(linear(r, c));
    m[at++] = static_cast<float>(move[r]);
  }
  return m;
}

std::string shot_json(const ReportInput& input, const ReportShot& shot, const Scale& scale, const ThinMesh& cloth,
                      std::span<const Index> shown) {
  std::vector<std::uint16_t> points;
  points.reserve(3 * cloth.vertex.size());
  for (const Index v : cloth.vertex) {
    for (int i = 0; i < 3; ++i) points.push_back(scale(shot.cloth[v][i], i));
  }
  // A pose as where the trim's middle went, and a unit quaternion in 16 bits a number.
  std::vector<std::uint16_t> poses;
  poses.reserve(7 * shown.size());
  for (const Index t : shown) {
    const Vec3 middle = apply(shot.poses[t], input.fit->trims[t].centre);
    const Quat q = to_quat(shot.poses[t].rotation);
    for (int i = 0; i < 3; ++i) poses.push_back(scale(middle[i], i));
    for (const double v : {q.x, q.y, q.z, q.w}) {
      poses.push_back(static_cast<std::uint16_t>(static_cast<std::int16_t>(std::lround(32767 * v))));
    }
  }
  std::string out = "{\"frame\":";
  json_text::append_number(out, shot.frame);
  out += ',';
  add_field(out, "cloth", pack(points));
  out += ',';
  add_field(out, "poses", pack(poses));
  return out + "}";
}

/// The mesh that stands for prototype number `own`'s copies.
std::string prototype_json(const ReportInput& input, Index trim, std::size_t budget) {
  const Index first = input.trim_vertex_offsets[trim], end = input.trim_vertex_offsets[trim + 1];
  const Index first_triangle = input.trim_triangle_offsets[trim], last = input.trim_triangle_offsets[trim + 1];
  const auto positions = input.trim_vertices.subspan(first, end - first);
  const ThinMesh mesh = thin(positions, input.trim_triangles.subspan(first_triangle, last - first_triangle), budget);
  std::vector<float> points;
  for (const Index v : mesh.vertex) {
    for (int i = 0; i < 3; ++i) points.push_back(static_cast<float>(positions[v][i]));
  }
  std::vector<std::uint16_t> corners;
  for (const Tri& t : mesh.triangles) {
    for (const Index v : t) corners.push_back(static_cast<std::uint16_t>(v));
  }
  std::string out = "{";
  add_field(out, "points", pack(points));
  out += ',';
  add_field(out, "corners", pack(corners));
  return out + "}";
}

/// Mean edge length around each kept vertex on the rest cloth, mm.
std::vector<float> vertex_spacing(const ReportInput& input, const ThinMesh& cloth) {
  const auto& rest = input.shots.front().cloth;
  std::vector<double> sum(rest.size(), 0);
  std::vector<std::uint32_t> count(rest.size(), 0);
  for (const Tri& t : input.cloth_triangles) {
    for (std::size_t i = 0; i < 3; ++i) {
      const Index a = t[i], b = t[(i + 1) % 3];
      const double l = length(rest[a] - rest[b]);
      sum[a] += l, sum[b] += l, ++count[a], ++count[b];
    }
  }
  std::vector<float> out;
  for (const Index v : cloth.vertex) {
    out.push_back(static_cast<float>(count[v] > 0 ? input.parts->unit.mm_per_unit * sum[v] / count[v] : 0));
  }
  return out;
}

}  // namespace

std::string base64(std::span<const std::uint8_t> bytes) {
  static constexpr char kDigits[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  out.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    std::uint32_t word = static_cast<std::uint32_t>(bytes[i]) << 16;
    if (i + 1 < bytes.size()) word |= static_cast<std::uint32_t>(bytes[i + 1]) << 8;
    if (i + 2 < bytes.size()) word |= bytes[i + 2];
    out += kDigits[word >> 18];
    out += kDigits[(word >> 12) & 63];
    out += i + 1 < bytes.size() ? kDigits[(word >> 6) & 63] : '=';
    out += i + 2 < bytes.size() ? kDigits[word & 63] : '=';
  }
  return out;
}

std::string pack(std::span<const std::uint16_t> values) { return pack_words(values); }
std::string pack(std::span<const std::uint32_t> values) { return pack_words(values); }
std::string pack(std::span<const float> values) {
  std::vector<std::uint32_t> words;
  words.reserve(values.size());
  for (const float v : values) words.push_back(std::bit_cast<std::uint32_t>(v));
  return pack_words<std::uint32_t>(words);
}

std::uint16_t Scale::operator()(double value, int axis) const {
  const double k = (value - min[axis]) / size;
  return static_cast<std::uint16_t>(std::lround(65535 * (k >= 0 ? std::min(k, 1.0) : 0.0)));
}

Scale scale_of(std::span<const ReportShot> shots) {
  Box all = bounds(shots.front().cloth);
  for (const ReportShot& shot : shots) {
    const Box box = bounds(shot.cloth);
    for (int i = 0; i < 3; ++i) {
      all.min[i] = std::min(all.min[i], box.min[i]), all.max[i] = std::max(all.max[i], box.max[i]);
    }
  }
  // Trims stand off the cloth a little.
  const Vec3 d = all.max - all.min;
  const double longest = std::max({d.x, d.y, d.z, 1e-9}), margin = 0.02 * longest;
  return {all.min - Vec3{margin, margin, margin}, longest + 2 * margin};
}

ThinMesh thin(std::span<const Vec3> positions, std::span<const Tri> triangles, std::size_t most) {
  const Box box = bounds(positions);
  const Vec3 d = box.max - box.min;
  const double longest = std::max({d.x, d.y, d.z, 1e-12});
  std::vector<Index> kept(positions.size());
  std::iota(kept.begin(), kept.end(), Index{0});
  ThinMesh mesh;
  double cells = std::max(8.0, 2 * std::sqrt(static_cast<double>(most)));
  for (bool gridded = triangles.size() > most;; cells *= 0.8) {
    if (gridded) {
      std::map<std::array<std::int32_t, 3>, Index> cell;
      for (Index v = 0; v < positions.size(); ++v) {
        const Vec3 p = (cells / longest) * (positions[v] - box.min);
        const std::array<std::int32_t, 3> key{static_cast<std::int32_t>(p.x), static_cast<std::int32_t>(p.y),
                                              static_cast<std::int32_t>(p.z)};
        kept[v] = cell.emplace(key, v).first->second;
      }
    }
    mesh.triangles.clear();
    for (const Tri& t : triangles) {
      const Tri k{kept[t[0]], kept[t[1]], kept[t[2]]};
      if (k[0] != k[1] && k[1] != k[2] && k[2] != k[0]) mesh.triangles.push_back(k);
    }
    if (mesh.triangles.size() <= most || cells < 4) break;
  }
  std::vector<Index> number(positions.size(), kNone);
  for (Tri& t : mesh.triangles) {
    for (Index& v : t) {
      if (number[v] == kNone) {
        number[v] = static_cast<Index>(mesh.vertex.size());
        mesh.vertex.push_back(v);
      }
      v = number[v];
    }
  }
  return mesh;
}

std::string mesh_json(const ReportInput& input, std::span<const Index> shown) {
  const Scale scale = scale_of(input.shots);
  const ThinMesh cloth = thin(input.shots.front().cloth, input.cloth_triangles, kClothTriangles);
  std::string out = "{\"min\":";
  json_text::append_vec3(out, scale.min);
  out += ",\"size\":";
  json_text::append_number(out, scale.size);
  std::vector<std::uint32_t> corners;
  for (const Tri& t : cloth.triangles) corners.insert(corners.end(), t.begin(), t.end());
  out += ',';
  add_field(out, "cloth", pack(corners));
  out += ',';
  add_field(out, "spacing", pack(vertex_spacing(input, cloth)));
  // Prototypes that are shown, numbered in order of first use; a trim without one stands for itself.
  std::vector<Index> own_of;
  std::map<Index, std::uint32_t> number;
  std::vector<std::uint32_t> mesh_of;
  std::vector<float> copies, centres, outward;
  const auto table_index = [&](Index id) {
    const auto at = std::find(input.trim_ids.begin(), input.trim_ids.end(), id);
    return at == input.trim_ids.end() ? kNone : static_cast<Index>(at - input.trim_ids.begin());
  };
  for (const Index t : shown) {
    const Trim& trim = input.parts->trims[input.trim_ids[t]];
    const bool has = trim.prototype != kNone && trim.prototype < input.parts->prototypes.size();
    const Index key = has ? trim.prototype : static_cast<Index>(input.parts->prototypes.size() + t);
    auto at = number.find(key);
    if (at == number.end()) {
      Index own = has ? table_index(input.parts->prototypes[trim.prototype].trim) : t;
      if (own == kNone) own = t;
      at = number.emplace(key, static_cast<std::uint32_t>(own_of.size())).first;
      own_of.push_back(own);
    }
    mesh_of.push_back(at->second);
    const auto m = copy_matrix(input.parts->trims[input.trim_ids[own_of[at->second]]], trim);
    copies.insert(copies.end(), m.begin(), m.end());
    for (int i = 0; i < 3; ++i) {
      centres.push_back(static_cast<float>(input.fit->trims[t].centre[i]));
      outward.push_back(static_cast<float>(input.fit->trims[t].outward[i]));
    }
  }
  const std::size_t budget = std::clamp(std::min(kAllPrototypeTriangles / std::max<std::size_t>(own_of.size(), 1),
                                                 kDrawnTriangles / std::max<std::size_t>(shown.size(), 1)),
                                        std::size_t{12}, kPrototypeTriangles);
  out += ",\"prototypes\":[";
  for (std::size_t i = 0; i < own_of.size(); ++i) out += (i > 0 ? "," : "") + prototype_json(input, own_of[i], budget);
  out += "],";
  add_field(out, "trims", pack(std::vector<std::uint32_t>(shown.begin(), shown.end())));
  out += ',';
  add_field(out, "meshOf", pack(mesh_of));
  out += ',';
  add_field(out, "copies", pack(copies));
  out += ',';
  add_field(out, "centres", pack(centres));
  out += ',';
  add_field(out, "outward", pack(outward));
  // As many poses as fit, those of the worst trims first.
  const std::size_t bytes = 4 * (6 * cloth.vertex.size() + 14 * shown.size()) / 3 + 1;
  const auto kept = frames_worth_a_look(*input.fit, std::max<std::size_t>(kShotBytes / bytes, 2) - 1);
  out += ",\"shots\":[" + shot_json(input, input.shots.front(), scale, cloth, shown);
  for (const ReportShot& shot : input.shots) {
    const bool wanted = shot.frame != 0 && std::binary_search(kept.begin(), kept.end(), shot.frame);
    if (wanted) out += "," + shot_json(input, shot, scale, cloth, shown);
  }
  return out + "]}";
}

std::vector<Spacing> cloth_spacing(const ReportInput& input) {
  std::map<Index, std::vector<double>> edges;
  const auto& rest = input.shots.front().cloth;
  for (std::size_t i = 0; i < input.cloth_triangles.size(); ++i) {
    const Tri& t = input.cloth_triangles[i];
    std::vector<double>& list = edges[input.component_of_triangle[i]];
    for (std::size_t k = 0; k < 3; ++k) list.push_back(length(rest[t[k]] - rest[t[(k + 1) % 3]]));
  }
  std::vector<Spacing> out;
  const double mm = input.parts->unit.mm_per_unit;
  for (auto& [component, lengths] : edges) {
    std::vector<double>& list = lengths;
    std::sort(list.begin(), list.end());
    const auto at = [&](double share) {
      return mm * list[static_cast<std::size_t>(share * static_cast<double>(list.size() - 1))];
    };
    out.push_back({component, list.size() / 3, at(0.5), at(0.05), at(0.95)});
  }
  return out;
}

}  // namespace trimtack::report
