// SPDX-License-Identifier: MIT
#include "demo/faults.hpp"

#include <algorithm>

namespace trimtack::coat {

void plant_sliver(Panel& panel, const Vec2& p, double width) {
  const PanelFinder finder(panel);
  const Place middle = finder.at(p);
  std::vector<Index> face = panel.faces[middle.face];
  const auto distance = [&](Index v) { return std::hypot(panel.cut[v].x - p.x, panel.cut[v].y - p.y); };
  std::rotate(face.begin(),
              std::max_element(face.begin(), face.end(), [&](Index a, Index b) { return distance(a) < distance(b); }),
              face.end());
  // Two new vertices beside p, square to the line from p to the face's farthest corner; a little beyond p, so that p is
  // inside the needle that runs to that corner.
  const Vec2 corner = panel.cut[face[0]];
  const double size = std::hypot(corner.x - p.x, corner.y - p.y);
  const Vec2 to{(corner.x - p.x) / size, (corner.y - p.y) / size};
  const double turn = cut_sense(panel);  // counter-clockwise from outside
  const auto insert = [&](double sign) {
    const double s = 0.5 * sign * turn * width;
    const Place at = finder.at({p.x - 0.3 * to.x - s * to.y, p.y - 0.3 * to.y + s * to.x});
    panel.positions.push_back(at.point);
    Vec2 cut, flat;
    for (std::size_t k = 0; k < 3; ++k) {
      const Vec2 &c = panel.cut[at.corners[k]], &f = panel.flat[at.corners[k]];
      cut = {cut.x + at.weights[k] * c.x, cut.y + at.weights[k] * c.y};
      flat = {flat.x + at.weights[k] * f.x, flat.y + at.weights[k] * f.y};
    }
    panel.cut.push_back(cut);
    panel.flat.push_back(flat);
    return static_cast<Index>(panel.positions.size() - 1);
  };
  const Index ahead = insert(1), behind = insert(-1);
  const std::size_t n = face.size(), half = (n + 1) / 2;
  std::vector<std::vector<Index>> pieces{{face[0], ahead, behind}, {face[half], behind, ahead}};
  for (std::size_t i = 0; i < n; ++i) pieces.push_back({face[i], face[(i + 1) % n], i < half ? ahead : behind});
  panel.faces[middle.face] = pieces[0];
  panel.faces.insert(panel.faces.end(), pieces.begin() + 1, pieces.end());
}

void flatten_triangle(std::vector<Vec3>& positions, const std::array<Index, 3>& corners) {
  positions[corners[0]] = mix(positions[corners[1]], positions[corners[2]], 0.5);
}

}  // namespace trimtack::coat
