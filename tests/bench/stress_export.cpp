// SPDX-License-Identifier: MIT
#include "bench/stress_export.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <string>
#include <utility>

#include "core/area_vector.hpp"
#include "demo/hardware.hpp"
#include "demo/motion.hpp"
#include "demo/panels.hpp"

namespace bench {
namespace {

using namespace trimtack;
using coat::Panel;
using coat::Solid;

constexpr double kPi = std::numbers::pi;

/// A surface of revolution with few sides, closed, from the bottom of the axis to its top.
Solid turned_solid(const std::vector<Vec2>& profile, int sides, const char* material) {
  Solid solid;
  solid.material = material;
  const auto n = static_cast<Index>(sides);
  const auto rings = static_cast<Index>(profile.size() - 2);
  solid.vertices.push_back({0, 0, profile.front().y});
  for (Index r = 0; r < rings; ++r)
    for (Index i = 0; i < n; ++i) {
      const double a = 2 * kPi * i / n;
      solid.vertices.push_back({profile[r + 1].x * std::cos(a), profile[r + 1].x * std::sin(a), profile[r + 1].y});
    }
  solid.vertices.push_back({0, 0, profile.back().y});
  const Index top = rings * n + 1;
  for (Index i = 0; i < n; ++i) {
    const Index k = (i + 1) % n;
    solid.faces.push_back({0, 1 + k, 1 + i});
    for (Index r = 0; r + 1 < rings; ++r)
      solid.faces.push_back({1 + r * n + i, 1 + r * n + k, 1 + (r + 1) * n + k, 1 + (r + 1) * n + i});
    solid.faces.push_back({top - n + i, top - n + k, top});
  }
  return solid;
}

/// An open disc with a hole, as sequins come.
Solid sequin(double radius) {
  Solid solid;
  solid.material = "sequin_silver";
  constexpr Index kSides = 10;
  for (const double r : {radius, 0.2 * radius})
    for (Index i = 0; i < kSides; ++i) {
      const double a = 2 * kPi * i / kSides;
      solid.vertices.push_back({r * std::cos(a), r * std::sin(a), 0.1 + 0.15 * (1 - r / radius)});
    }
  for (Index i = 0; i < kSides; ++i) {
    const Index k = (i + 1) % kSides;
    solid.faces.push_back({i, k, kSides + k, kSides + i});
  }
  return solid;
}

/// A square bar bent into the cloth at both ends: 10 faces.
Solid short_stitch(double length) {
  Solid solid;
  solid.stitching = true;
  solid.material = "thread_ecru";
  const double h = length / 2, r = 0.25;
  for (const auto& [x, z] : {std::pair{-h, -0.2}, {0.0, 0.15}, {h, -0.2}})
    for (const auto& [y, up] : {std::pair{-r, 0.0}, {0.0, -r}, {r, 0.0}, {0.0, r}})
      solid.vertices.push_back({x, y, z + up});
  for (Index s = 0; s < 2; ++s)
    for (Index i = 0; i < 4; ++i) {
      const Index k = (i + 1) % 4;
      solid.faces.push_back({4 * s + i, 4 * s + k, 4 * s + 4 + k, 4 * s + 4 + i});
    }
  solid.faces.push_back({3, 2, 1, 0});
  solid.faces.push_back({8, 9, 10, 11});
  return solid;
}

void scale(std::vector<Solid>& parts, double factor) {
  for (Solid& part : parts)
    for (Vec3& p : part.vertices) p = factor * p;
}

/// One kind of trim, and how often it comes among a hundred.
struct Kind {
  const char* name;
  std::vector<Solid> parts;
  int share;
};

/// All kinds, no wider than `room`.
std::vector<Kind> kinds(double room) {
  const double small = std::min(1.0, room / 3.2);
  std::vector<Kind> out;
  out.push_back(
      {"bead", {turned_solid({{0, 0}, {1.0, 0.25}, {1.4, 1.1}, {1.0, 1.95}, {0, 2.2}}, 8, "glass_green")}, 70});
  out.push_back({"sequin", {sequin(1.5)}, 20});
  out.push_back(
      {"stud",
       {turned_solid({{0, 0.05}, {1.4, 0.05}, {1.4, 0.4}, {0.7, 0.9}, {0, 1.0}}, 8, "brass_aged"),
        turned_solid({{0, -0.9}, {1.1, -0.9}, {1.1, -0.5}, {0.4, -0.5}, {0.4, 0.5}, {0, 0.5}}, 8, "brass_aged")},
       9});
  for (Kind& kind : out) scale(kind.parts, small);
  const double diameter = std::min(24 * coat::kLigne, room), size = diameter / (24 * coat::kLigne);
  std::vector<Solid> button{coat::make_button(diameter, 3.2 * size, 4, 1.9 * size, 2.4 * size, 1.2 * size)};
  out.push_back({"button", std::move(button), 1});
  return out;
}

std::uint64_t face_count(const Kind& kind) {
  std::uint64_t n = 0;
  for (const Solid& part : kind.parts) n += part.faces.size();
  return n;
}

/// A row position on a piece: where, which way.
struct Spot {
  Vec3 point, normal, along;
};

/// Corners of a piece's triangles that lie in the flat at lattice points `step` apart, row by row.
struct Row {
  std::vector<Spot> spots;
};

std::vector<Row> rows_on(const Panel& panel, double step) {
  std::vector<Vec3> normal(panel.positions.size());
  std::vector<std::array<Index, 3>> triangles;
  for (const auto& face : panel.faces)
    for (std::size_t k = 2; k < face.size(); ++k) triangles.push_back({face[0], face[k - 1], face[k]});
  Vec2 low = panel.flat[0], high = low;
  for (const Vec2& p : panel.flat) {
    low = {std::min(low.x, p.x), std::min(low.y, p.y)};
    high = {std::max(high.x, p.x), std::max(high.y, p.y)};
  }
  for (const auto& t : triangles)
    for (const Index v : t)
      normal[v] += cross(panel.positions[t[1]] - panel.positions[t[0]], panel.positions[t[2]] - panel.positions[t[0]]);
  std::vector<Row> rows(static_cast<std::size_t>((high.y - low.y) / step) + 1);
  const Vec2 first{low.x + 0.5 * step, low.y + 0.5 * step};
  for (const auto& t : triangles) {
    const std::array<Vec2, 3> q{panel.flat[t[0]], panel.flat[t[1]], panel.flat[t[2]]};
    const auto turn = [](const Vec2& a, const Vec2& b, const Vec2& c) {
      return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    };
    const double area = turn(q[0], q[1], q[2]);
    if (area <= 0) continue;
    const auto from = [&](double a, double b, double c, double at) {
      return std::max(0.0, std::ceil((std::min({a, b, c}) - at) / step));
    };
    const double top = std::max({q[0].y, q[1].y, q[2].y}), right = std::max({q[0].x, q[1].x, q[2].x});
    for (auto j = static_cast<std::size_t>(from(q[0].y, q[1].y, q[2].y, first.y)); j < rows.size(); ++j) {
      const double y = first.y + static_cast<double>(j) * step;
      if (y > top) break;
      for (double i = from(q[0].x, q[1].x, q[2].x, first.x); first.x + i * step <= right; i += 1) {
        const Vec2 p{first.x + i * step, y};
        const double a = turn(p, q[1], q[2]) / area, b = turn(q[0], p, q[2]) / area, c = 1 - a - b;
        if (a < 0 || b < 0 || c < 0 || a == 0) continue;  // on an edge it belongs to one side only, mostly
        Spot spot;
        spot.point = a * panel.positions[t[0]] + b * panel.positions[t[1]] + c * panel.positions[t[2]];
        spot.normal =
            normalized(a * normalized(normal[t[0]]) + b * normalized(normal[t[1]]) + c * normalized(normal[t[2]]));
        // Along the row: the gradient of the worn position along the flat x.
        const Vec3 side = (q[2].y - q[0].y) * (panel.positions[t[1]] - panel.positions[t[0]]) -
                          (q[1].y - q[0].y) * (panel.positions[t[2]] - panel.positions[t[0]]);
        spot.along = normalized(side - dot(side, spot.normal) * spot.normal);
        rows[j].spots.push_back(spot);
      }
    }
  }
  return rows;
}

/// Appends a rigid copy.
class Assembly {
 public:
  explicit Assembly(SourceMesh& mesh) : mesh_(mesh) {}

  void name(const std::string& object, const std::string& material) {
    FaceState state;
    state.object = number(mesh_.objects, objects_, object);
    state.material = number(mesh_.materials, materials_, material);
    if (mesh_.states.empty() || !(mesh_.states.back().state == state))
      mesh_.states.push_back({mesh_.face_count(), state});
  }
  static double rounded(double v) { return std::round(v * 1e5) / 1e5; }
  void vertex(const Vec3& p) { mesh_.positions.push_back({rounded(p.x), rounded(p.y), rounded(p.z)}); }
  void texcoord(const Vec2& p) { mesh_.texcoords.push_back({rounded(p.x), rounded(p.y)}); }
  void corner(Index position, Index texcoord) {
    mesh_.corner_position.push_back(position);
    mesh_.corner_texcoord.push_back(texcoord);
  }
  void close_face() { mesh_.face_offsets.push_back(static_cast<Index>(mesh_.corner_position.size())); }
  void solid(const Solid& solid, const Spot& spot, const Vec3& along, const std::string& object) {
    name(object, solid.material);
    const auto base = static_cast<Index>(mesh_.positions.size());
    const Vec3 across = cross(spot.normal, along);
    for (const Vec3& p : solid.vertices) vertex(spot.point + p.x * along + p.y * across + p.z * spot.normal);
    for (const auto& face : solid.faces) {
      for (const Index v : face) corner(base + v, kNone);
      close_face();
    }
  }

 private:
  static Index number(std::vector<std::string>& names, std::map<std::string, Index>& known, const std::string& text) {
    const auto [it, fresh] = known.try_emplace(text, static_cast<Index>(names.size()));
    if (fresh) names.push_back(text);
    return it->second;
  }
  SourceMesh& mesh_;
  std::map<std::string, Index> objects_, materials_;
};

/// A piece with every face cut into k x k; new vertices on edges are shared.
Panel refined(const Panel& panel, Index k) {
  if (k <= 1) return panel;
  Panel out;
  out.name = panel.name;
  out.material = panel.material;
  out.positions = panel.positions;
  out.flat = panel.flat;
  std::map<std::pair<Index, Index>, Index> on_edge;  // first of k - 1, from the smaller vertex
  const auto between = [&](const std::array<Index, 4>& v, const std::array<double, 4>& w, std::size_t n) {
    Vec3 p;
    Vec2 q;
    for (std::size_t i = 0; i < n; ++i) {
      p += w[i] * panel.positions[v[i]];
      q = {q.x + w[i] * panel.flat[v[i]].x, q.y + w[i] * panel.flat[v[i]].y};
    }
    out.positions.push_back(p);
    out.flat.push_back(q);
    return static_cast<Index>(out.positions.size() - 1);
  };
  const auto edge = [&](Index a, Index b, Index step) {  // vertex `step` of k on the way from a to b
    if (step == 0) return a;
    if (step == k) return b;
    const auto key = std::minmax(a, b);
    const auto [it, fresh] = on_edge.try_emplace({key.first, key.second}, static_cast<Index>(out.positions.size()));
    if (fresh)
      for (Index s = 1; s < k; ++s)
        between({key.first, key.second, 0, 0}, {1 - static_cast<double>(s) / k, static_cast<double>(s) / k, 0, 0}, 2);
    return it->second + (a < b ? step : k - step) - 1;
  };
  for (const auto& face : panel.faces) {
    const bool quad = face.size() == 4;
    std::vector<Index> grid(static_cast<std::size_t>(k + 1) * (k + 1), kNone);
    const auto at = [&](Index i, Index j) -> Index& { return grid[static_cast<std::size_t>(j) * (k + 1) + i]; };
    for (Index j = 0; j <= k; ++j)
      for (Index i = 0; i <= (quad ? k : k - j); ++i) {
        const double u = static_cast<double>(i) / k, v = static_cast<double>(j) / k;
        if (j == 0)
          at(i, j) = edge(face[0], face[1], i);
        else if (i == 0)
          at(i, j) = edge(face[0], face[quad ? 3 : 2], j);
        else if (quad && j == k)
          at(i, j) = edge(face[3], face[2], i);
        else if (quad && i == k)
          at(i, j) = edge(face[1], face[2], j);
        else if (!quad && i == k - j)
          at(i, j) = edge(face[1], face[2], j);
        else if (quad)
          at(i, j) =
              between({face[0], face[1], face[2], face[3]}, {(1 - u) * (1 - v), u * (1 - v), u * v, (1 - u) * v}, 4);
        else
          at(i, j) = between({face[0], face[1], face[2], 0}, {1 - u - v, u, v, 0}, 3);
      }
    for (Index j = 0; j < k; ++j)
      for (Index i = 0; i < (quad ? k : k - j); ++i) {
        if (quad) {
          out.faces.push_back({at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)});
          continue;
        }
        out.faces.push_back({at(i, j), at(i + 1, j), at(i, j + 1)});
        if (i + 1 < k - j) out.faces.push_back({at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)});
      }
  }
  return out;
}

/// Cuts faces at their middle until `missing` more faces are there, or fewer than the last cut would give.
void top_up(std::vector<Panel>& panels, std::uint64_t missing) {
  for (Panel& panel : panels) {
    const std::size_t count = panel.faces.size();
    for (std::size_t f = 0; f < count; ++f) {
      const std::vector<Index> face = panel.faces[f];
      if (missing + 1 < face.size()) continue;
      Vec3 p;
      Vec2 q;
      const double w = 1.0 / static_cast<double>(face.size());
      for (const Index v : face) {
        p += w * panel.positions[v];
        q = {q.x + w * panel.flat[v].x, q.y + w * panel.flat[v].y};
      }
      const auto middle = static_cast<Index>(panel.positions.size());
      panel.positions.push_back(p);
      panel.flat.push_back(q);
      panel.faces[f] = {face[0], face[1], middle};
      for (std::size_t k = 1; k < face.size(); ++k)
        panel.faces.push_back({face[k], face[(k + 1) % face.size()], middle});
      missing -= face.size() - 1;
    }
  }
}

/// Rows of spots on all pieces, at least `count` of them, and the lattice's step.
std::vector<Row> lattice(const std::vector<Panel>& panels, std::uint64_t count, double& step) {
  double area = 0;
  for (const Panel& panel : panels)
    for (const auto& face : panel.faces)
      for (std::size_t k = 2; k < face.size(); ++k)
        area += 0.5 * length(cross(panel.positions[face[k - 1]] - panel.positions[face[0]],
                                   panel.positions[face[k]] - panel.positions[face[0]]));
  for (step = std::min(40.0, std::sqrt(area / static_cast<double>(std::max<std::uint64_t>(count, 1))));;
       step *= 0.985) {
    std::vector<Row> rows;
    std::uint64_t spots = 0;
    for (const Panel& panel : panels)
      for (Row& row : rows_on(panel, step)) {
        spots += row.spots.size();
        rows.push_back(std::move(row));
      }
    if (spots >= count) return rows;
  }
}

/// A normal and a texture coordinate for every vertex and every corner.
void fill_corners(SourceMesh& mesh) {
  std::vector<Vec3> sums(mesh.positions.size());
  mesh.texcoords.clear();
  for (Index f = 0; f < mesh.face_count(); ++f) {
    const Vec3 area = area_vector(mesh.positions, mesh.face(f));
    for (const Index v : mesh.face(f)) sums[v] += area;
  }
  for (std::size_t v = 0; v < sums.size(); ++v) {
    const Vec3 n = normalized(sums[v]), p = mesh.positions[v];
    mesh.normals.push_back({Assembly::rounded(n.x), Assembly::rounded(n.y), Assembly::rounded(n.z)});
    mesh.texcoords.push_back({Assembly::rounded(p.x / 2000), Assembly::rounded(p.y / 2000)});
  }
  mesh.corner_texcoord = mesh.corner_position;
  mesh.corner_normal = mesh.corner_position;
}

}  // namespace

StressExport make_stress(const StressOptions& options) {
  StressExport out;
  out.mesh.file = "stress.obj";
  const coat::Coat whole = coat::make_coat(options.seed);
  std::vector<Panel> pieces;
  for (const char* name : {"back", "sleeve_left", "sleeve_right", "front_left"}) pieces.push_back(whole.panel(name));
  double step = 0;
  const std::vector<Row> rows = lattice(pieces, options.trims + options.stitches, step);
  const std::vector<Kind> all = kinds(0.8 * step);
  coat::Random random{options.seed * 77 + 5};
  // Which kind each trim is, then what is left for the cloth.
  std::vector<std::uint8_t> kind(options.trims);
  std::uint64_t hard = options.stitches * 10;
  for (auto& k : kind) {
    int ticket = static_cast<int>(random.next() % 100);
    while (ticket >= all[k].share) ticket -= all[k++].share;
    hard += face_count(all[k]);
  }
  const std::uint64_t soft = options.faces > hard ? options.faces - hard : 0;
  const auto total = [](const std::vector<Panel>& panels) {
    std::uint64_t n = 0;
    for (const Panel& panel : panels) n += panel.faces.size();
    return n;
  };
  while (pieces.size() > 1 && total(pieces) > soft) pieces.pop_back();
  Index fine = 1;
  while (total(pieces) * (fine + 1) * (fine + 1) <= soft) ++fine;
  for (Panel& piece : pieces) piece = refined(piece, fine);
  const std::uint64_t cut = total(pieces);
  if (soft > cut) top_up(pieces, soft - cut);

  Assembly assembly(out.mesh);
  for (const Panel& panel : pieces) {
    assembly.name(panel.name, panel.material);
    const auto base = static_cast<Index>(out.mesh.positions.size()), uv = static_cast<Index>(out.mesh.texcoords.size());
    for (const Vec3& p : panel.positions) assembly.vertex(p);
    for (const Vec2& p : panel.flat) assembly.texcoord({p.x / 2000, p.y / 2000});
    for (const auto& face : panel.faces) {
      for (const Index v : face) assembly.corner(base + v, uv + v);
      assembly.close_face();
    }
  }
  out.cloth_faces = out.mesh.face_count();
  out.cloth_vertices = out.mesh.positions.size();
  out.components = pieces.size();
  // Whole rows of stitches among whole rows of trims.
  const Solid stitch = short_stitch(std::min(2.6, 0.8 * step));
  const double share =
      static_cast<double>(options.stitches) / std::max(1.0, static_cast<double>(options.trims + options.stitches));
  double due = 0;
  for (const Row& row : rows) {
    due += share * static_cast<double>(row.spots.size());
    const bool sewn = due >= 0.5 * static_cast<double>(row.spots.size()) && out.stitches < options.stitches;
    if (sewn) due -= static_cast<double>(row.spots.size());
    for (const Spot& spot : row.spots) {
      if ((sewn && out.stitches < options.stitches) ||
          (out.trims == options.trims && out.stitches < options.stitches)) {
        assembly.solid(stitch, spot, spot.along, "seams");
        ++out.stitches;
        ++out.components;
      } else if (out.trims < options.trims) {
        const Kind& chosen = all[kind[out.trims++]];
        const Vec3 along = coat::turned(spot.along, spot.normal, random.between(0, 2 * kPi));
        for (const Solid& part : chosen.parts) assembly.solid(part, spot, along, chosen.name);
        out.components += chosen.parts.size();
      }
    }
  }
  if (options.full) fill_corners(out.mesh);
  return out;
}

Vec3 stress_frame_vertex(const Vec3& rest, int number, int count) {
  return coat::moved(rest, coat::motion_at(static_cast<double>(number) / std::max(1, count), 0.7));
}

}  // namespace bench
