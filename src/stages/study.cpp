// SPDX-License-Identifier: MIT
#include "stages/study.hpp"

#include <algorithm>
#include <utility>

#include "stages/clues.hpp"
#include "stages/joined_vertices.hpp"
#include "trimtack/units.hpp"

namespace trimtack {
namespace {

constexpr double kMostStitchSlender = 18;

/// What kind of length a small part gives, if any; thickness comes as a second witness.
void add_witnesses(const Study& m, Index twin, double diagonal, std::vector<Witness>& out) {
  const Shape& s = m.shapes[m.families.twin_representative[twin]];
  const Detail& d = m.details[twin];
  if (!(s.extents[0] > 0) || s.extents[0] > 0.1 * diagonal) return;
  const Look l = look_at(s, d);
  const Index copies = m.families.kin_count[m.families.kin_of_twin[twin]];
  const bool plate = d.roundness > 0.85 && s.extents[1] > 0.85 * s.extents[0] && s.extents[2] < 0.6 * s.extents[0];
  const double width = is_arch(l, d) ? d.thickness : l.width;
  const double slender = l.length / std::max(width, 1e-300);
  // Fur, fringes, the turns of a coil.
  if (copies >= 40 && (slender > kMostStitchSlender || (l.form == Form::Wire && l.slender > kMostStitchSlender)))
    return;
  const bool pierced = d.closed && d.euler < 2;  // a bugle bead, a link: no thread
  if (copies >= 40 && slender > 2.2 && l.length < 0.03 * diagonal && !pierced) {
    out.push_back({slender > 2.8 ? Gauge::Stitch : Gauge::Element, l.length});
    if (slender > 2.8) out.push_back({Gauge::Thread, width});
  } else if (plate && d.closed && d.euler <= -2) {
    out.push_back({Gauge::Button, s.extents[0]});
    if (d.thickness > 0) out.push_back({Gauge::Plate, d.thickness});
  } else if (d.roundness > 0.85) {
    out.push_back({Gauge::RoundPart, s.extents[0]});
    if (plate && d.boundary_edges == 0 && d.thickness > 0) out.push_back({Gauge::Plate, d.thickness});
  } else if (d.boundary_edges == 0) {
    const bool element = copies >= 40 && !pierced && l.length < 0.03 * diagonal && l.length < 3 * l.depth;
    out.push_back({element ? Gauge::Element : Gauge::Part, s.extents[0]});
  }
}

Unit find_unit(const Study& m, const GarmentScale& scale, std::vector<UnitChance>& chances) {
  std::vector<Witness> witnesses;
  for (Index t = 0; t < m.families.twins(); ++t) add_witnesses(m, t, scale.diagonal, witnesses);
  return deduce_unit({scale.diagonal, scale.cloth_spacing, scale.panel_thickness, witnesses}, &chances);
}

void warn_about_unit(const Unit& declared, const Unit& deduced, const std::string& file, Report& report) {
  if (declared.mm_per_unit == deduced.mm_per_unit || deduced.confidence < 0.9) return;
  const std::string measured = deduced.reasons.empty() ? "sizes fit" : deduced.reasons.front();
  const std::string text = "the declared unit " + declared.name + " contradicts what is measured: in " + deduced.name +
                           " the " + measured + "; check --unit or the exporter's scale";
  add(report, {Severity::Warning, "unit-contradicted", text, file});
}

}  // namespace

RoleInput Study::input(const SourceMesh& mesh, bool use_names) const {
  RoleInput in;
  in.mesh = &mesh;
  in.welded = &welded;
  in.components = &components;
  in.shapes = shapes;
  in.families = &families;
  in.twin_details = details;
  in.scale = scale;
  in.use_names = use_names;
  return in;
}

Result<Study> study(const SourceMesh& mesh, const IdentifyOptions& options, Report& report) {
  const Error no_faces{ErrorCode::BadInput, "the mesh has no faces; export the garment as polygons", mesh.file, 0};
  if (mesh.face_count() == 0) return no_faces;
  const FaceView faces{mesh.positions, mesh.face_offsets, mesh.corner_position};
  Study s;
  std::vector<Index> joined;
  for_ranges(options.executor, 2, 1, [&](std::size_t which, std::size_t) {
    if (which == 0)
      s.welded = weld(mesh.positions, options.weld_groups);
    else
      joined = join_by_faces(faces);
  });
  s.components = find_components(faces, s.welded, std::move(joined));
  if (s.components.count() == 0) return no_faces;
  s.shapes = measure_shapes(faces, s.components, options.executor);
  s.families = find_families(s.shapes);
  s.details = measure_details(mesh, s.welded, s.components, s.shapes, s.families.twin_representative, options.executor);
  s.box = s.shapes[0].box;
  for (const Shape& shape : s.shapes)
    for (int k = 0; k < 3; ++k) {
      s.box.min[k] = std::min(s.box.min[k], shape.box.min[k]);
      s.box.max[k] = std::max(s.box.max[k], shape.box.max[k]);
    }
  s.scale = find_scale(s.shapes, s.families, s.details);
  std::vector<UnitChance> chances;
  s.deduced = find_unit(s, s.scale, chances);
  s.unit = options.unit ? *options.unit : s.deduced;
  if (options.unit) warn_about_unit(s.unit, s.deduced, mesh.file, report);
  if (!options.unit && s.deduced.confidence < 0.7)
    add(report,
        {Severity::Note, "unit-unsure", "the unit could not be deduced with confidence; give --unit", mesh.file});
  s.scale.mm_per_unit = s.unit.mm_per_unit;
  s.scale.unit_confidence = s.unit.confidence;
  if (!options.unit) s.scale.unit_chances = std::move(chances);
  s.verdicts = assign_roles(s.input(mesh, options.use_names));
  return s;
}

}  // namespace trimtack
