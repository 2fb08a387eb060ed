// SPDX-License-Identifier: MIT
/// Cloth, trim or stitching: physical clues per component, added up openly as log odds.
#pragma once

#include <array>
#include <span>
#include <string>
#include <vector>

#include "trimtack/families.hpp"
#include "trimtack/features.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/units.hpp"

namespace trimtack {

/// The clues. Each adds to the log odds of "rigid" (trim or stitching) against "cloth".
enum class Clue : std::uint8_t {
  Prior,
  Size,        ///< length against what haberdashery and panels measure
  Share,       ///< length against the garment
  Sheet,       ///< open and flat, or closed and solid
  Thickness,   ///< two sheets as far apart as the panels' sheets
  Outline,     ///< round
  Holes,       ///< closed with handles: sewing holes, rings, frames
  Length,      ///< long and thin, as cords and straps are
  Copies,      ///< how many congruent ones there are
  Spacing,     ///< edges against the cloth's spacing
  Creases,     ///< sharp edges
  Curvature,   ///< curved in two directions, as no flat pattern is
  Flattening,  ///< UVs at the panels' common scale, without stretch
  Neighbours,  ///< edges that run along another piece's edge (a seam)
  Carrier,     ///< what it touches
  Name,        ///< names and materials (weak)
  Row,         ///< order in rows
  Count
};
inline constexpr std::size_t kClueCount = static_cast<std::size_t>(Clue::Count);
using Clues = std::array<float, kClueCount>;

/// What all components of one export are compared with.
struct GarmentScale {
  double diagonal = 0;                    ///< of all components' boxes together, file units
  double cloth_spacing = 0;               ///< mean edge of the large components
  double panel_thickness = 0;             ///< of the large components' two sheets, 0 when they are single
  std::vector<double> panel_thicknesses;  ///< all that occur among the large components, ascending
  double thick_share = 0;                 ///< share of the large components' area that has two sheets
  double uv_scale = 0;                    ///< common scale of the large components' UVs, 0 when there is none
  Index uv_pieces = 0;                    ///< how many large components agree on it
  double mm_per_unit = 1;
  double unit_confidence = 0;
  std::vector<UnitChance> unit_chances;  ///< sizes are judged in each; empty: only in mm_per_unit
};
GarmentScale find_scale(std::span<const Shape> shapes, const Families& families, std::span<const Detail> twin_details);

/// One verdict per component.
struct RoleVerdict {
  Role role = Role::Cloth;
  double confidence = 0;
  double log_odds = 0;  ///< of rigid against cloth
  Clues clues{};
};

struct RoleInput {
  const SourceMesh* mesh = nullptr;
  const WeldMap* welded = nullptr;
  const ComponentMap* components = nullptr;
  std::span<const Shape> shapes;
  const Families* families = nullptr;
  std::span<const Detail> twin_details;  ///< of each twin group's representative
  GarmentScale scale;
  bool use_names = true;
};
std::vector<RoleVerdict> assign_roles(const RoleInput& input);

/// The clues that decided, in plain words; copies share them.
class Reasons {
 public:
  explicit Reasons(const RoleInput& input);
  /// At most four, strongest first.
  SharedTexts of(Index component, const RoleVerdict& verdict);

 private:
  struct Made {
    std::array<std::uint8_t, 4> clues;
    std::size_t count;
    SharedTexts texts;
  };
  const RoleInput& in_;
  std::vector<std::vector<Made>> made_;  // per twin and role
};

}  // namespace trimtack
