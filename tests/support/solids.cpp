// SPDX-License-Identifier: MIT
#include "support/solids.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <numbers>
#include <tuple>

#include "support/random.hpp"

namespace trimtack::testing {

Index Solid::add_vertex(const Vec3& p) {
  vertices.push_back(p);
  return static_cast<Index>(vertices.size() - 1);
}
void Solid::add_face(std::span<const Index> face) {
  corners.insert(corners.end(), face.begin(), face.end());
  offsets.push_back(static_cast<Index>(corners.size()));
}
void Solid::add_face(std::initializer_list<Index> face) { add_face(std::span<const Index>(face.begin(), face.size())); }

Solid cleaned(const Solid& solid) {
  Solid out;
  std::map<std::tuple<double, double, double>, Index> seen;
  std::vector<Index> number(solid.vertices.size());
  for (std::size_t i = 0; i < solid.vertices.size(); ++i) {
    const Vec3& p = solid.vertices[i];
    const auto [it, fresh] =
        seen.try_emplace({p.x + 0.0, p.y + 0.0, p.z + 0.0}, static_cast<Index>(out.vertices.size()));
    if (fresh) out.vertices.push_back(p);
    number[i] = it->second;
  }
  for (Index f = 0; f < solid.face_count(); ++f) {
    std::vector<Index> face;
    std::vector<Vec2> uv;
    const Index begin = solid.offsets[f];
    const Index end = solid.offsets[f + 1];
    for (Index k = begin; k < end; ++k) {
      const Index v = number[solid.corners[k]];
      if (!face.empty() && (face.back() == v || (k + 1 == end && face.front() == v))) continue;
      face.push_back(v);
      if (!solid.uv.empty()) uv.push_back(solid.uv[k]);
    }
    if (face.size() < 3) continue;
    out.add_face(face);
    out.uv.insert(out.uv.end(), uv.begin(), uv.end());
  }
  return out;
}

Solid moved(const Solid& solid, const Mat3& linear, const Vec3& translation) {
  Solid out = solid;
  for (Vec3& p : out.vertices) p = linear * p + translation;
  const Vec3 c0 = linear.column(0);
  if (dot(cross(c0, linear.column(1)), linear.column(2)) < 0) {  // keep the outside outside
    for (Index f = 0; f < out.face_count(); ++f) {
      std::reverse(out.corners.begin() + out.offsets[f], out.corners.begin() + out.offsets[f + 1]);
      if (!out.uv.empty()) std::reverse(out.uv.begin() + out.offsets[f], out.uv.begin() + out.offsets[f + 1]);
    }
  }
  return out;
}

void append(Solid& to, const Solid& from) {
  const Index base = static_cast<Index>(to.vertices.size());
  to.vertices.insert(to.vertices.end(), from.vertices.begin(), from.vertices.end());
  for (Index f = 0; f < from.face_count(); ++f) {
    for (Index k = from.offsets[f]; k < from.offsets[f + 1]; ++k) to.corners.push_back(from.corners[k] + base);
    to.offsets.push_back(static_cast<Index>(to.corners.size()));
  }
  to.uv.insert(to.uv.end(), from.uv.begin(), from.uv.end());
}

Solid cut_to_triangles(const Solid& solid, double share, std::uint64_t seed) {
  Random random(seed);
  Solid out;
  out.vertices = solid.vertices;
  for (Index f = 0; f < solid.face_count(); ++f) {
    const Index begin = solid.offsets[f];
    const Index n = solid.offsets[f + 1] - begin;
    const bool keep = n == 3 || !random.chance(share);
    const Index turn = n == 4 ? static_cast<Index>(random.pick(2)) : 0;
    const auto corner = [&](Index k) { return begin + (k + turn) % n; };
    const auto emit = [&](std::initializer_list<Index> face) {
      for (const Index k : face) {
        out.corners.push_back(solid.corners[k]);
        if (!solid.uv.empty()) out.uv.push_back(solid.uv[k]);
      }
    };
    if (keep) {
      for (Index k = 0; k < n; ++k) emit({begin + k});
      out.offsets.push_back(static_cast<Index>(out.corners.size()));
      continue;
    }
    for (Index k = 1; k + 1 < n; ++k) {
      emit({corner(0), corner(k), corner(k + 1)});
      out.offsets.push_back(static_cast<Index>(out.corners.size()));
    }
  }
  return out;
}

Solid swept(std::span<const Vec3> path, std::span<const double> radii, int sides, Ends ends, double squash) {
  Solid out;
  const std::size_t n = path.size();
  const bool loop = ends == Ends::Loop;
  Vec3 side;
  std::vector<std::vector<Index>> rings;
  for (std::size_t i = 0; i < n; ++i) {
    const Vec3 before = i > 0 ? path[i - 1] : (loop ? path[n - 1] : path[0]);
    const Vec3 after = i + 1 < n ? path[i + 1] : (loop ? path[0] : path[n - 1]);
    const Vec3 t = normalized(after - before);
    if (i == 0) side = std::abs(t.z) < 0.9 ? normalized(cross(t, {0, 0, 1})) : normalized(cross(t, {1, 0, 0}));
    side = normalized(side - dot(side, t) * t);
    const Vec3 up = cross(t, side);
    std::vector<Index> ring;
    for (int k = 0; k < sides; ++k) {
      const double a = 2 * std::numbers::pi * k / sides;
      ring.push_back(out.add_vertex(path[i] + radii[i] * (std::cos(a) * side + squash * std::sin(a) * up)));
    }
    rings.push_back(ring);
  }
  const std::size_t spans = loop ? n : n - 1;
  const auto s = static_cast<std::size_t>(sides);
  for (std::size_t i = 0; i < spans; ++i)
    for (std::size_t k = 0; k < s; ++k)
      out.add_face({rings[i][k], rings[i][(k + 1) % s], rings[(i + 1) % n][(k + 1) % s], rings[(i + 1) % n][k]});
  if (ends == Ends::Flat) {
    std::vector<Index> first(rings.front().rbegin(), rings.front().rend());
    out.add_face(first);
    out.add_face(rings.back());
  } else if (ends == Ends::Fan) {
    const Index a = out.add_vertex(path[0]);
    const Index b = out.add_vertex(path[n - 1]);
    for (std::size_t k = 0; k < s; ++k) {
      out.add_face({a, rings.front()[(k + 1) % s], rings.front()[k]});
      out.add_face({b, rings.back()[k], rings.back()[(k + 1) % s]});
    }
  }
  return out;
}

Solid turned(std::span<const Vec2> profile, int sides, bool closed_profile) {
  Solid out;
  const std::size_t n = profile.size();
  const auto s = static_cast<std::size_t>(sides);
  for (const Vec2& p : profile)
    for (int k = 0; k < sides; ++k) {
      const double a = 2 * std::numbers::pi * k / sides;
      out.add_vertex(p.x == 0 ? Vec3{0, 0, p.y} : Vec3{p.x * std::cos(a), p.x * std::sin(a), p.y});
    }
  const std::size_t spans = closed_profile ? n : n - 1;
  for (std::size_t i = 0; i < spans; ++i)
    for (std::size_t k = 0; k < s; ++k) {
      const auto at = [&](std::size_t ring, std::size_t j) { return static_cast<Index>((ring % n) * s + j % s); };
      out.add_face({at(i, k), at(i, k + 1), at(i + 1, k + 1), at(i + 1, k)});
    }
  return cleaned(out);
}

Solid plate(int nx, int ny, const std::function<bool(int, int)>& mask, const std::function<Vec2(int, int)>& place,
            double thickness, bool wrap) {
  Solid out;
  const auto corner = [&](int i, int j, bool top) {
    const Vec2 p = place(wrap ? i % nx : i, j);
    return out.add_vertex({p.x, p.y, top ? thickness : 0.0});
  };
  const auto solid_at = [&](int i, int j) {
    if (j < 0 || j >= ny) return false;
    if (wrap) i = (i + nx) % nx;
    return i >= 0 && i < nx && mask(i, j);
  };
  for (int i = 0; i < nx; ++i)
    for (int j = 0; j < ny; ++j) {
      if (!solid_at(i, j)) continue;
      out.add_face({corner(i, j, true), corner(i + 1, j, true), corner(i + 1, j + 1, true), corner(i, j + 1, true)});
      out.add_face(
          {corner(i, j, false), corner(i, j + 1, false), corner(i + 1, j + 1, false), corner(i + 1, j, false)});
      const auto wall = [&](int i0, int j0, int i1, int j1) {
        out.add_face({corner(i0, j0, false), corner(i1, j1, false), corner(i1, j1, true), corner(i0, j0, true)});
      };
      if (!solid_at(i, j - 1)) wall(i, j, i + 1, j);
      if (!solid_at(i + 1, j)) wall(i + 1, j, i + 1, j + 1);
      if (!solid_at(i, j + 1)) wall(i + 1, j + 1, i, j + 1);
      if (!solid_at(i - 1, j)) wall(i, j + 1, i, j);
    }
  return cleaned(out);
}

Solid box(double x, double y, double z, int cuts) {
  const Solid flat = plate(
      cuts, cuts, [](int, int) { return true; },
      [&](int i, int j) {
        return Vec2{x * (static_cast<double>(i) / cuts - 0.5), y * (static_cast<double>(j) / cuts - 0.5)};
      },
      z, false);
  return moved(flat, Mat3{}, {0, 0, -0.5 * z});
}

Solid ball(double radius, int sides, int rings) {
  std::vector<Vec2> profile;
  for (int i = 0; i <= rings; ++i) {
    const double a = std::numbers::pi * i / rings;
    const bool pole = i == 0 || i == rings;
    profile.push_back({pole ? 0.0 : radius * std::sin(a), -radius * std::cos(a)});
  }
  return turned(profile, sides, false);
}

Vec3 normal_at(const Surface3& surface, Vec2 at) {
  constexpr double h = 0.05;
  const Vec3 u = surface({at.x + h, at.y}) - surface({at.x - h, at.y});
  const Vec3 v = surface({at.x, at.y + h}) - surface({at.x, at.y - h});
  return normalized(cross(u, v));
}

Pose frame_at(const Surface3& surface, Vec2 at, double lift, double turn_rad) {
  constexpr double h = 0.05;
  const Vec3 n = normal_at(surface, at);
  const Vec3 u0 = surface({at.x + h, at.y}) - surface({at.x - h, at.y});
  const Vec3 u = normalized(u0 - dot(u0, n) * n);
  const Vec3 v = cross(n, u);
  const Vec3 a = std::cos(turn_rad) * u + std::sin(turn_rad) * v;
  return {from_columns(a, cross(n, a), n), surface(at) + lift * n};
}

Solid sheet(const Surface3& surface, double width, double height, const std::function<Vec2(Vec2)>& outline,
            const SheetOptions& options) {
  Random random(options.seed);
  const int nx = std::max(1, static_cast<int>(std::lround(width / options.spacing)));
  const int ny = std::max(1, static_cast<int>(std::lround(height / options.spacing)));
  const auto columns = static_cast<Index>(nx + 1);
  std::vector<Vec2> pattern;
  for (int j = 0; j <= ny; ++j)
    for (int i = 0; i <= nx; ++i) {
      Vec2 p{i == nx ? width : width * i / nx, j == ny ? height : height * j / ny};
      if (options.jitter > 0 && i > 0 && j > 0 && i < nx && j < ny) {
        p.x += options.jitter * options.spacing * random.between(-1, 1);
        p.y += options.jitter * options.spacing * random.between(-1, 1);
      }
      pattern.push_back(outline ? outline(p) : p);
    }
  Solid out;
  const bool thick = options.thickness > 0;
  const auto add_layer = [&](double offset) {
    for (const Vec2& p : pattern)
      out.add_vertex(offset == 0 ? surface(p) : surface(p) + offset * normal_at(surface, p));
  };
  const auto vertex = [&](int i, int j) { return static_cast<Index>(j) * columns + static_cast<Index>(i); };
  const auto face = [&](std::array<Index, 4> v, std::array<Index, 4> t) {
    out.add_face(v);
    for (const Index k : t) out.uv.push_back(pattern[k]);
  };
  add_layer(thick ? 0.5 * options.thickness : 0);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const std::array<Index, 4> v{vertex(i, j), vertex(i + 1, j), vertex(i + 1, j + 1), vertex(i, j + 1)};
      face(v, v);
    }
  if (!thick) return out;
  const Index below = static_cast<Index>(pattern.size());
  add_layer(-0.5 * options.thickness);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      const std::array<Index, 4> v{vertex(i, j), vertex(i, j + 1), vertex(i + 1, j + 1), vertex(i + 1, j)};
      face({v[0] + below, v[1] + below, v[2] + below, v[3] + below}, v);
    }
  if (!options.walls) return out;
  const auto wall = [&](Index a, Index b) { face({a + below, b + below, b, a}, {a, b, b, a}); };
  for (int i = 0; i < nx; ++i) {
    wall(vertex(i, 0), vertex(i + 1, 0));
    wall(vertex(i + 1, ny), vertex(i, ny));
  }
  for (int j = 0; j < ny; ++j) {
    wall(vertex(nx, j), vertex(nx, j + 1));
    wall(vertex(0, j + 1), vertex(0, j));
  }
  return out;
}

}  // namespace trimtack::testing
