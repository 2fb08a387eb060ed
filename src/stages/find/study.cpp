// SPDX-License-Identifier: MIT
#include "stages/find/study.hpp"

#include <algorithm>
#include <utility>

#include "core/memory.hpp"
#include "stages/find/clues.hpp"
#include "stages/find/joined_vertices.hpp"
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

/// Components that take long to measure and are no copies: of so many faces, a share of all, and with other counts than
/// the others.
std::vector<Index> large_components(const ComponentMap& components, std::size_t faces) {
  constexpr std::size_t kManyFaces = 20000, kShare = 8;
  std::vector<Index> large;
  for (Index c = 0; c < components.count(); ++c)
    if (components.faces_of(c).size() >= std::max(kManyFaces, faces / kShare)) large.push_back(c);
  const auto alike = [&](Index a, Index b) {
    return a != b && components.faces_of(a).size() == components.faces_of(b).size() &&
           components.vertices_of(a).size() == components.vertices_of(b).size();
  };
  std::vector<Index> out;
  for (const Index c : large)
    if (std::none_of(large.begin(), large.end(), [&](Index other) { return alike(c, other); })) out.push_back(c);
  return out;
}

/// Shapes, families and details. The large components' details are measured while the small ones' shapes are: a garment
/// in one piece would else keep one thread busy with all others waiting.
void measure(const SourceMesh& mesh, const FaceView& faces, const Executor& executor, Study& s) {
  const std::vector<Index> large = large_components(s.components, mesh.face_count());
  reserve_large(s.shapes, s.components.count());
  s.shapes.resize(s.components.count());
  std::vector<Detail> large_details(large.size());
  for_ranges(executor, large.size() + 1, 1, [&](std::size_t i, std::size_t) {
    if (i == large.size()) return measure_shapes(faces, s.components, large, s.shapes, executor);
    s.shapes[large[i]] = measure_shape(faces, s.components, large[i]);
    large_details[i] = measure_details(mesh, s.welded, s.components, s.shapes, {&large[i], 1}).front();
  });
  s.families = find_families(s.shapes);
  std::vector<Index> twins, rest;
  for (Index t = 0; t < s.families.twins(); ++t) {
    const Index c = s.families.twin_representative[t];
    if (std::find(large.begin(), large.end(), c) == large.end()) twins.push_back(t), rest.push_back(c);
  }
  const std::vector<Detail> details = measure_details(mesh, s.welded, s.components, s.shapes, rest, executor);
  s.details.resize(s.families.twins());
  for (std::size_t i = 0; i < twins.size(); ++i) s.details[twins[i]] = details[i];
  for (std::size_t i = 0; i < large.size(); ++i) {
    const Index t = s.families.twin_of_component[large[i]];
    if (s.families.twin_representative[t] == large[i]) s.details[t] = large_details[i];
  }
  for (Index c = 0; c < s.components.count(); ++c) {
    const Detail& d = s.details[s.families.twin_of_component[c]];
    if (!(d.single_area > 0)) continue;
    s.shapes[c].area = d.single_area;
    s.shapes[c].volume = d.single_volume;
  }
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
  measure(mesh, faces, options.executor, s);
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
