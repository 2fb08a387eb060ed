// SPDX-License-Identifier: MIT
// What all pattern pieces share: meshing, flattening, laying out, finding places.
#include "demo/panels.hpp"

#include <limits>

namespace trimtack::coat {
namespace {

/// Two triangles a quad, for places and normals.
std::vector<std::array<Index, 4>> fans(const Panel& panel) {
  std::vector<std::array<Index, 4>> out;
  for (std::size_t f = 0; f < panel.faces.size(); ++f) {
    const auto& face = panel.faces[f];
    for (std::size_t k = 2; k < face.size(); ++k) out.push_back({face[0], face[k - 1], face[k], static_cast<Index>(f)});
  }
  return out;
}

double turn(const Vec2& a, const Vec2& b, const Vec2& c) {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

struct Link {
  Index a = 0, b = 0;
  double length = 0;
};

std::vector<Link> links_of(const Panel& panel) {
  std::vector<Link> links;
  const auto add = [&](int i, int j, int k, int l) {
    if (k < 0 || k > panel.columns || l > panel.rows) return;
    const auto a = static_cast<Index>(panel.at(i, j)), b = static_cast<Index>(panel.at(k, l));
    links.push_back({a, b, length(panel.positions[a] - panel.positions[b])});
  };
  for (int j = 0; j <= panel.rows; ++j)
    for (int i = 0; i <= panel.columns; ++i) {
      add(i, j, i + 1, j);
      add(i, j, i, j + 1);
      add(i, j, i + 1, j + 1);
      add(i, j, i - 1, j + 1);
    }
  return links;
}

void relax_flat(Panel& panel, const std::vector<Link>& links, int sweeps) {
  const auto relax = [&](const Link& link) {
    Vec2 &p = panel.flat[link.a], &q = panel.flat[link.b];
    const double dx = q.x - p.x, dy = q.y - p.y, now = std::sqrt(dx * dx + dy * dy);
    if (now <= 0) return;
    const double move = 0.5 * (now - link.length) / now;
    p.x += move * dx;
    p.y += move * dy;
    q.x -= move * dx;
    q.y -= move * dy;
  };
  for (int sweep = 0; sweep < sweeps; ++sweep) {
    for (const Link& link : links) relax(link);
    for (std::size_t i = links.size(); i-- > 0;) relax(links[i]);
  }
}

}  // namespace

std::vector<Vec2> fill_grid(std::span<const Vec2> bottom, std::span<const Vec2> top, std::span<const Vec2> left,
                            std::span<const Vec2> right) {
  const std::size_t columns = bottom.size() - 1, rows = left.size() - 1;
  std::vector<Vec2> grid((columns + 1) * (rows + 1));
  const auto at = [&](std::size_t i, std::size_t j) -> Vec2& { return grid[j * (columns + 1) + i]; };
  for (std::size_t j = 0; j <= rows; ++j)
    for (std::size_t i = 0; i <= columns; ++i) {
      const double u = static_cast<double>(i) / static_cast<double>(columns);
      const double v = static_cast<double>(j) / static_cast<double>(rows);
      const Vec2 across = mix(left[j], right[j], u), along = mix(bottom[i], top[i], v);
      const Vec2 corners = mix(mix(left[0], right[0], u), mix(left[rows], right[rows], u), v);
      at(i, j) = {across.x + along.x - corners.x, across.y + along.y - corners.y};
    }
  // Winslow 1966: smooth in the grid's own coordinates, so that lines do not cross at hollow borders (the armhole).
  for (int sweep = 0; sweep < 80; ++sweep)
    for (std::size_t j = 1; j < rows; ++j)
      for (std::size_t i = 1; i < columns; ++i) {
        const Vec2 &west = at(i - 1, j), &east = at(i + 1, j), &south = at(i, j - 1), &north = at(i, j + 1);
        const Vec2 u{0.5 * (east.x - west.x), 0.5 * (east.y - west.y)};
        const Vec2 v{0.5 * (north.x - south.x), 0.5 * (north.y - south.y)};
        const double alpha = v.x * v.x + v.y * v.y, gamma = u.x * u.x + u.y * u.y, beta = u.x * v.x + u.y * v.y;
        const Vec2 &ne = at(i + 1, j + 1), &nw = at(i - 1, j + 1), &se = at(i + 1, j - 1), &sw = at(i - 1, j - 1);
        const double scale = 0.5 / (alpha + gamma);
        at(i, j) = {scale * (alpha * (east.x + west.x) + gamma * (north.x + south.x) -
                             0.5 * beta * (ne.x - nw.x - se.x + sw.x)),
                    scale * (alpha * (east.y + west.y) + gamma * (north.y + south.y) -
                             0.5 * beta * (ne.y - nw.y - se.y + sw.y))};
      }
  // Winslow's lines shy away from the hollow; a few plain sweeps even the spacing out again.
  for (int sweep = 0; sweep < 6; ++sweep)
    for (std::size_t j = 1; j < rows; ++j)
      for (std::size_t i = 1; i < columns; ++i)
        at(i, j) = mix(mix(at(i - 1, j), at(i + 1, j), 0.5), mix(at(i, j - 1), at(i, j + 1), 0.5), 0.5);
  return grid;
}

void mesh_grid(Panel& panel) {
  panel.faces.clear();
  const auto add = [&](std::vector<Index> face) {
    if (panel.flipped) std::reverse(face.begin(), face.end());
    panel.faces.push_back(std::move(face));
  };
  for (int j = 0; j < panel.rows; ++j)
    for (int i = 0; i < panel.columns; ++i) {
      const auto a = static_cast<Index>(panel.at(i, j)), b = static_cast<Index>(panel.at(i + 1, j));
      const auto c = static_cast<Index>(panel.at(i + 1, j + 1)), d = static_cast<Index>(panel.at(i, j + 1));
      if (!panel.triangles) {
        add({a, b, c, d});
      } else if ((i + j) % 2 == 0) {
        add({a, b, c});
        add({a, c, d});
      } else {
        add({a, b, d});
        add({b, c, d});
      }
    }
}

double cut_sense(const Panel& panel) {
  double area = 0;
  for (const auto& t : fans(panel)) area += turn(panel.cut[t[0]], panel.cut[t[1]], panel.cut[t[2]]);
  return area < 0 ? -1 : 1;
}

void flatten(Panel& panel) {
  panel.flat = panel.cut;
  if (cut_sense(panel) < 0)
    for (Vec2& p : panel.flat) p.x = -p.x;
  relax_flat(panel, links_of(panel), 150);
}

void lay_out(std::vector<Panel>& panels) {
  constexpr double kSheet = 1900, kGap = 25;
  double x = kGap, y = kGap, row = 0;
  for (Panel& panel : panels) {
    Vec2 low = panel.flat.front(), high = low;
    for (const Vec2& p : panel.flat) {
      low = {std::min(low.x, p.x), std::min(low.y, p.y)};
      high = {std::max(high.x, p.x), std::max(high.y, p.y)};
    }
    if (x + high.x - low.x > kSheet) {
      x = kGap;
      y += row + kGap;
      row = 0;
    }
    for (Vec2& p : panel.flat) p = {p.x - low.x + x, p.y - low.y + y};
    x += high.x - low.x + kGap;
    row = std::max(row, high.y - low.y);
  }
}

PanelFinder::PanelFinder(const Panel& panel)
    : panel_(&panel), normals_(panel.positions.size()), triangles_(fans(panel)) {
  for (const auto& t : triangles_) {
    const Vec3 n = cross(panel.positions[t[1]] - panel.positions[t[0]], panel.positions[t[2]] - panel.positions[t[0]]);
    for (int k = 0; k < 3; ++k) normals_[t[static_cast<std::size_t>(k)]] += n;
  }
}

Place PanelFinder::at(const Vec2& p) const {
  const auto& cut = panel_->cut;
  double best = -std::numeric_limits<double>::infinity();
  std::array<double, 3> weights{1, 0, 0};
  const std::array<Index, 4>* found = triangles_.data();  // a panel has faces
  for (const auto& t : triangles_) {
    const double area = turn(cut[t[0]], cut[t[1]], cut[t[2]]);
    if (area == 0) continue;
    const std::array<double, 3> w{turn(p, cut[t[1]], cut[t[2]]) / area, turn(cut[t[0]], p, cut[t[2]]) / area,
                                  turn(cut[t[0]], cut[t[1]], p) / area};
    // Depth inside in mm, so that outside points go to the nearest face and not to the largest.
    const double inside = std::min({w[0], w[1], w[2]}) * std::sqrt(std::abs(area));
    if (inside > best) {
      best = inside;
      weights = w;
      found = &t;
    }
    if (std::min({w[0], w[1], w[2]}) >= 0) break;
  }
  Place place;
  const auto& t = *found;
  const auto& x = panel_->positions;
  for (std::size_t k = 0; k < 3; ++k) {
    place.point += weights[k] * x[t[k]];
    place.normal += std::max(0.0, weights[k]) * normalized(normals_[t[k]]);
  }
  place.normal = normalized(place.normal);
  // Gradient of the worn position along the pattern's axes, squared up with the normal.
  const Vec2 d1{cut[t[1]].x - cut[t[0]].x, cut[t[1]].y - cut[t[0]].y};
  const Vec2 d2{cut[t[2]].x - cut[t[0]].x, cut[t[2]].y - cut[t[0]].y};
  const double det = d1.x * d2.y - d1.y * d2.x;
  const Vec3 up = (1 / det) * (d1.x * (x[t[2]] - x[t[0]]) - d2.x * (x[t[1]] - x[t[0]]));
  place.up = normalized(up - dot(up, place.normal) * place.normal);
  place.along = cross(place.up, place.normal);
  place.face = t[3];
  place.corners = {t[0], t[1], t[2]};
  place.weights = weights;
  return place;
}

const Panel& Coat::panel(const std::string& name) const {
  return *std::find_if(panels.begin(), panels.end(), [&](const Panel& p) { return p.name == name; });
}
Panel& Coat::panel(const std::string& name) {
  return *std::find_if(panels.begin(), panels.end(), [&](const Panel& p) { return p.name == name; });
}

Coat make_coat(std::uint64_t seed) {
  Coat coat;
  coat.body = make_body(seed);
  Panel left = make_front(coat.body, true, seed), right = make_front(coat.body, false, seed);
  Panel back = make_back(coat.body, left, right);
  Panel sleeve_left = make_sleeve(left, back, true), sleeve_right = make_sleeve(right, back, false);
  Panel cuff_left = make_cuff(sleeve_left, true), cuff_right = make_cuff(sleeve_right, false);
  auto [band, fall] = make_collar(coat.body, left, right, back);
  for (Panel* panel : {&left, &back, &right, &sleeve_left, &sleeve_right, &cuff_left, &cuff_right, &band, &fall})
    coat.panels.push_back(std::move(*panel));
  add_small_panels(coat);
  for (Panel& panel : coat.panels) flatten(panel);
  lay_out(coat.panels);
  return coat;
}

}  // namespace trimtack::coat
