// SPDX-License-Identifier: MIT
// A made-up garment as some exporter would write it: units, axes, names, UVs, split vertices, flaws.
#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numeric>

#include "support/garment_maker.hpp"

namespace trimtack::testing {
namespace {

struct Export {
  double mm_per_unit = 1;
  double decimals = 1e4;
  double triangle_share = 0;
  bool split = false;
  int uv = 0;     // 0 none, 1 flat pattern, 2 each piece fills the square, 3 flat pattern on tiles
  int names = 0;  // 0 none, 1 true, 2 misleading, 3 numbers, 4 one material
  bool flaws = false;
  bool two_materials = false;
  Pose pose;
};

Export choose(Random& random) {
  Export e;
  struct UnitChoice {
    double mm, decimals;
  };
  constexpr std::array<UnitChoice, 4> units{{{1, 1e4}, {10, 1e5}, {1000, 1e6}, {25.4, 1e5}}};
  const UnitChoice u = units[static_cast<std::size_t>(random.chance(0.1) ? 3 : random.pick(3))];
  e.mm_per_unit = u.mm;
  e.decimals = random.chance(0.5) ? u.decimals : 10 * u.decimals;
  constexpr std::array<double, 3> shares{0, 1, 0.4};
  e.triangle_share = shares[static_cast<std::size_t>(random.pick(3))];
  e.split = random.chance(0.3);
  e.uv = random.pick(4);
  e.names = random.pick(5);
  e.flaws = random.chance(0.25);
  e.two_materials = random.chance(0.3);
  if (random.chance(0.5)) e.pose.rotation = Mat3{{1, 0, 0, 0, 0, -1, 0, 1, 0}};
  if (random.chance(0.3)) e.pose = {random.rotation(), 300 * random.direction()};
  return e;
}

/// Box-like UVs in the solid's own frame, as trims from a library have.
void give_own_uv(Solid& s, Random& random) {
  const double scale = random.between(0.004, 0.2);
  const Vec3 a = random.direction();
  const Vec3 b = normalized(cross(a, random.direction()));
  s.uv.clear();
  for (const Index v : s.corners) {
    const Vec3 p = s.vertices[v] - s.vertices[0];
    s.uv.push_back({scale * dot(p, a), scale * dot(p, b)});
  }
}

}  // namespace

Garment GarmentMaker::write_out() {
  const Export e = choose(random_);
  out_.mm_per_unit = e.mm_per_unit;
  out_.story += ", unit " + std::to_string(e.mm_per_unit) + ", triangles " + std::to_string(e.triangle_share) +
                (e.split ? ", split" : "") + ", uv " + std::to_string(e.uv) + ", names " + std::to_string(e.names) +
                (e.flaws ? ", flaws" : "");
  SourceMesh& m = out_.mesh;
  m.file = "garment-" + std::to_string(out_.seed);
  std::vector<std::size_t> order(pieces_.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  if (random_.chance(0.6))
    for (std::size_t i = order.size(); i > 1; --i)
      std::swap(order[i - 1], order[static_cast<std::size_t>(random_.pick(static_cast<int>(i)))]);
  const double pattern_scale = random_.between(0.0005, 0.002);
  std::map<std::string, Index> object_number;
  const auto object = [&](const std::string& name) {
    const auto [it, fresh] = object_number.try_emplace(name, static_cast<Index>(m.objects.size()));
    if (fresh) m.objects.push_back(name);
    return it->second;
  };
  if (e.names == 2) m.materials = {"button_red", "cotton"};
  if (e.names == 4) m.materials = {"default"};
  if (e.two_materials) m.materials.insert(m.materials.end(), {"mat_a", "mat_b"});
  const Index mat_a = static_cast<Index>(m.materials.size()) - 2;
  std::size_t serial = 0;
  for (const std::size_t index : order) {
    Piece& piece = pieces_[index];
    const bool soft = piece.truth.role == Role::Cloth;
    Solid s = piece.solid;
    if (e.uv == 0) {
      s.uv.clear();
    } else if (soft && s.uv.size() == s.corners.size()) {
      double scale = pattern_scale;
      if (e.uv == 2) {
        double largest = 1e-9;
        for (const Vec2& t : s.uv) largest = std::max({largest, std::abs(t.x), std::abs(t.y)});
        scale = 1 / largest;
      }
      const Vec2 shift{e.uv == 3 ? static_cast<double>(serial % 7) : random_.between(0, 0.5),
                       e.uv == 3 ? static_cast<double>(serial / 7 % 5) : random_.between(0, 0.5)};
      const double turn = e.uv == 2 ? 0 : random_.between(0, 6.28);
      for (Vec2& t : s.uv)
        t = {shift.x + scale * (std::cos(turn) * t.x - std::sin(turn) * t.y),
             shift.y + scale * (std::sin(turn) * t.x + std::cos(turn) * t.y)};
    } else {
      give_own_uv(s, random_);
    }
    const std::uint64_t cut_seed = soft ? random_.bits() : 77;  // copies are cut alike
    s = cut_to_triangles(s, e.triangle_share, cut_seed);
    const Index piece_id = static_cast<Index>(out_.pieces.size());
    out_.pieces.push_back(piece.truth);
    const Index base = static_cast<Index>(m.positions.size());
    const auto place = [&](const Vec3& p) {
      Vec3 q = (1.0 / e.mm_per_unit) * apply(e.pose, p);
      for (int k = 0; k < 3; ++k) q[k] = std::round(q[k] * e.decimals) / e.decimals;
      return q;
    };
    if (!e.split)
      for (const Vec3& p : s.vertices) m.positions.push_back(place(p));
    FaceState state;
    if (e.names == 1) state.object = object(piece.truth.kind);
    if (e.names == 2) state.object = object(soft ? "zip" + std::to_string(serial % 3) : "body");
    if (e.names == 3) state.object = object("mesh" + std::to_string(serial));
    if (e.names == 2) state.material = soft ? 0 : 1;
    if (e.names == 4) state.material = 0;
    const bool two = e.two_materials && !soft && piece.truth.role == Role::Trim;
    const bool shuffled = piece.truth.role != Role::Stitching && random_.chance(0.08);
    std::vector<Index> faces(s.face_count());
    std::iota(faces.begin(), faces.end(), Index{0});
    if (shuffled)
      for (std::size_t i = faces.size(); i > 1; --i)
        std::swap(faces[i - 1], faces[static_cast<std::size_t>(random_.pick(static_cast<int>(i)))]);
    for (std::size_t i = 0; i < faces.size(); ++i) {
      const Index f = faces[i];
      if (two) state.material = i < faces.size() / 2 ? mat_a : mat_a + 1;
      if (m.states.empty() || !(m.states.back().state == state)) m.states.push_back({m.face_count(), state});
      const int copies = e.flaws && random_.chance(0.002) ? 2 : 1;
      for (int copy = 0; copy < copies; ++copy) {
        for (Index k = s.offsets[f]; k < s.offsets[f + 1]; ++k) {
          if (e.split) {
            m.corner_position.push_back(static_cast<Index>(m.positions.size()));
            m.positions.push_back(place(s.vertices[s.corners[k]]));
          } else {
            m.corner_position.push_back(base + s.corners[k]);
          }
          if (e.uv != 0) {
            m.corner_texcoord.push_back(static_cast<Index>(m.texcoords.size()));
            m.texcoords.push_back(s.uv[k]);
          }
        }
        m.face_offsets.push_back(static_cast<Index>(m.corner_position.size()));
        out_.piece_of_face.push_back(piece_id);
      }
      if (e.flaws && random_.chance(0.001)) {  // a face without area
        const Index v = m.corner_position[m.face_offsets[m.face_count() - 1]];
        for (int k = 0; k < 3; ++k) {
          m.corner_position.push_back(v);
          if (e.uv != 0) m.corner_texcoord.push_back(kNone);
        }
        m.face_offsets.push_back(static_cast<Index>(m.corner_position.size()));
        out_.piece_of_face.push_back(piece_id);
      }
      if (e.flaws && random_.chance(0.002)) m.positions.push_back(300 * random_.direction());
    }
    ++serial;
  }
  return std::move(out_);
}

}  // namespace trimtack::testing
