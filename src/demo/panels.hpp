// SPDX-License-Identifier: MIT
/// The coat's pattern pieces: each a mesh of its own over pattern coordinates, sewn by coinciding seam vertices.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "demo/shape.hpp"
#include "trimtack/types.hpp"

namespace trimtack::coat {

/// One pattern piece. Vertex (i, j) of its grid is number j * (columns + 1) + i; faults may append more.
struct Panel {
  std::string name, group, material;
  int columns = 0, rows = 0;
  bool triangles = false;       ///< else quads
  bool flipped = false;         ///< the grid runs clockwise when seen from outside
  std::vector<Vec2> cut;        ///< pattern coordinates the piece was designed in, where trims are placed
  std::vector<Vec3> positions;  ///< worn
  std::vector<Vec2> flat;       ///< flattened piece in mm, the UVs
  std::vector<std::vector<Index>> faces;

  std::size_t at(int i, int j) const {
    return static_cast<std::size_t>(j) * static_cast<std::size_t>(columns + 1) + static_cast<std::size_t>(i);
  }
};

/// A place on a panel's mesh: the worn point, the outward normal (smooth over the facets) and the directions of the
/// pattern's axes there.
struct Place {
  Vec3 point, normal, along, up;
  Index face = kNone;
  std::array<Index, 3> corners{kNone, kNone, kNone};  ///< of the triangle it lies in
  std::array<double, 3> weights{1, 0, 0};
};
/// Finds the place at pattern coordinates p; outside the piece, the nearest face's plane is continued.
class PanelFinder {
 public:
  explicit PanelFinder(const Panel& panel);
  Place at(const Vec2& p) const;
  const Panel& panel() const { return *panel_; }

 private:
  const Panel* panel_;
  std::vector<Vec3> normals_;
  std::vector<std::array<Index, 4>> triangles_;  ///< three vertices and the face
};

/// The names below are what trims.cpp and frames.cpp refer to.
struct Coat {
  Body body;
  std::vector<Panel> panels;
  const Panel& panel(const std::string& name) const;
  Panel& panel(const std::string& name);
};

/// Cuts, sews and flattens every piece.
Coat make_coat(std::uint64_t seed);

/// Builds the faces of a grid panel once its vertices stand: quads, or triangles with alternating diagonals.
void mesh_grid(Panel& panel);
/// +1 where the cut coordinates run counter-clockwise as seen from outside, -1 where they are mirrored.
double cut_sense(const Panel& panel);
/// Flattens the worn piece: moves `cut` in the plane until all edges and diagonals have their worn lengths, as nearly
/// as they can (Gauss-Seidel on the length constraints; Mueller, Heidelberger, Hennix and Ratcliff 2007, section 4.1).
void flatten(Panel& panel);
/// Moves the flattened pieces apart onto one sheet, in rows.
void lay_out(std::vector<Panel>& panels);

/// Grid of cut coordinates between four boundary lines (transfinite interpolation, then smoothed).
std::vector<Vec2> fill_grid(std::span<const Vec2> bottom, std::span<const Vec2> top, std::span<const Vec2> left,
                            std::span<const Vec2> right);

Panel make_front(const Body& body, bool left, std::uint64_t seed);
Panel make_back(const Body& body, const Panel& front_left, const Panel& front_right);
Panel make_sleeve(const Panel& front, const Panel& back, bool left);
Panel make_cuff(const Panel& sleeve, bool left);
/// Band and fall.
std::array<Panel, 2> make_collar(const Body& body, const Panel& front_left, const Panel& front_right,
                                 const Panel& back);
/// Pockets, flaps, tabs, label, inside pocket with its tapes.
void add_small_panels(Coat& coat);

// Grid counts that seams agree on.
inline constexpr int kFrontColumns = 32, kSideRows = 44, kArmholeRows = 26, kFrontRows = kSideRows + kArmholeRows;
inline constexpr int kPlacketColumns = 2, kNeckColumns = 14, kShoulderColumns = 16, kBackNeckColumns = 16;
inline constexpr int kBackColumns = kShoulderColumns + kBackNeckColumns, kBackRows = kFrontRows / 2;
inline constexpr int kSleeveColumns = kArmholeRows, kSleeveRows = 29, kCuffRows = 6;
inline constexpr double kPlacket = 20;  ///< each front reaches this far beyond the centre line

/// The arm: from the shoulder joint down the sleeve.
struct Arm {
  Vec3 root, axis;   ///< axis unit
  Vec3 over, ahead;  ///< unit: square to the axis, away from the body; and forwards
  double reach = 560;
};
Arm make_arm(bool left);

}  // namespace trimtack::coat
