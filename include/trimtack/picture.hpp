// SPDX-License-Identifier: MIT
/// What a picture of a garment shows, as plain data: parts with colours, labels, captions.
/// io/picture.hpp draws it.
#pragma once

#include <array>
#include <span>
#include <string>
#include <vector>

#include "trimtack/fit_result.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/parts.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// sRGB, 0 to 1 each.
struct Colour {
  double r = 0, g = 0, b = 0;
  friend bool operator==(const Colour&, const Colour&) = default;
};

/// How a part stands out. Plain trims are coloured by prototype; the others have one colour and one sign each.
enum class Mark : std::uint8_t { Plain, Good, Close, Fault, Uncertain };
const char* to_text(Mark mark);  ///< "", "good", "close to a limit", "fault", "uncertain"
/// The mark's colour; Plain gives grey. Told apart with normal sight and with each kind of dichromacy.
Colour colour_of(Mark mark);
/// Light tint of cloth piece `i`, strong colour of prototype `i`; both repeat after a few.
Colour cloth_tint(std::size_t i);
Colour trim_colour(std::size_t i);
Colour stitching_colour();

struct PicturePart {
  Role role = Role::Cloth;
  Mark mark = Mark::Plain;
  std::size_t tint = 0;  ///< piece number of cloth, prototype number of a trim
  Index group = kNone;   ///< trim id: parts that are one thing to the viewer
};

/// A number beside a place. Labels with the smaller `rank` are placed first; those without room are left out.
struct PictureLabel {
  Vec3 at;
  std::string text;
  Mark mark = Mark::Plain;
  int rank = 0;
  Index group = kNone;  ///< drawn where a part of this group is seen, pointing to its middle; kNone: at `at`, always
};

struct PictureInput {
  std::vector<Vec3> positions;  ///< any unit
  std::vector<Tri> triangles;
  std::vector<Index> part_of_triangle;  ///< into parts
  std::vector<PicturePart> parts;
  std::vector<PictureLabel> labels;
  UpAxis up = UpAxis::Y;
  std::string title;
  std::vector<std::string> notes;  ///< lines below the picture
  int width = 1440;                ///< pixels; the height follows from the garment
  double label_size = 11;          ///< height of the labels' letters, pixels
};

/// The picture of an export: a part per component, marks from `uncertain`, labels per trim (rows and stitching once).
/// @param positions  empty, or one per vertex of the mesh (a frame)      Cost: O(#F).
PictureInput picture_of(const SourceMesh& mesh, const Parts& parts, std::span<const Vec3> positions = {});
/// Marks the trims of a picture_of(mesh, parts) by their verdicts and labels the worst ones first.
/// @param trim_of_fit  trim id (parts.json) of each entry of summary.trims, in its order
void mark_verdicts(PictureInput& picture, const Parts& parts, const FitSummary& summary,
                   std::span<const Index> trim_of_fit);
/// After mark_verdicts: labels those that are not good by their number in worst_first(), from 1, and no others.
void number_worst_first(PictureInput& picture, const FitSummary& summary, std::span<const Index> trim_of_fit);

}  // namespace trimtack
