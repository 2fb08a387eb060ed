// SPDX-License-Identifier: MIT
#include "trimtack/identify.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>
#include <numeric>

#include "trimtack/prototypes.hpp"
#include "trimtack/rows.hpp"
#include "trimtack/units.hpp"

namespace trimtack {
namespace {

// Copies in exports agree to some thousandths of their size; a button 0.5 mm larger differs by more (0.25 mm on the
// radius of one of 40 mm is 0.006).
constexpr double kCongruent = 2.5e-3;

void list_ranges(std::span<const Index> ascending, std::vector<IndexRange>& out) {
  for (const Index i : ascending) {
    if (!out.empty() && out.back().end == i)
      ++out.back().end;
    else
      out.push_back({i, i + 1});
  }
}

}  // namespace

Result<Parts> identify(const SourceMesh& mesh, const IdentifyOptions& options, Report& report) {
  if (mesh.face_count() == 0)
    return Error{ErrorCode::BadInput, "the mesh has no faces; export the garment as polygons", mesh.file, 0};
  const FaceView faces{mesh.positions, mesh.face_offsets, mesh.corner_position};
  const WeldMap welded = weld(mesh.positions);
  const ComponentMap components = find_components(faces, welded);
  const std::vector<Shape> shapes = measure_shapes(faces, welded, components, options.executor);
  const Families families = find_families(shapes);
  const std::vector<Detail> details =
      measure_details(mesh, welded, components, shapes, families.twin_representative, options.executor);

  RoleInput input;
  input.mesh = &mesh;
  input.welded = &welded;
  input.components = &components;
  input.shapes = shapes;
  input.families = &families;
  input.twin_details = details;
  input.use_names = options.use_names;
  input.scale = find_scale(shapes, families, details);

  Parts parts;
  parts.source_file = mesh.file;
  parts.source_faces = mesh.face_count();
  parts.source_vertices = static_cast<Index>(mesh.positions.size());
  std::vector<double> part_sizes;
  std::vector<double> part_thickness;
  for (Index t = 0; t < families.twins(); ++t) {
    const Shape& s = shapes[families.twin_representative[t]];
    const Detail& d = details[t];
    const bool part = d.boundary_edges == 0 || d.roundness > 0.85;
    if (!part || s.extents[0] > 0.1 * input.scale.diagonal) continue;
    part_sizes.push_back(s.extents[0]);
    if (d.thickness > 0) part_thickness.push_back(d.thickness);
  }
  parts.unit = options.unit
                   ? *options.unit
                   : deduce_unit({input.scale.diagonal, input.scale.cloth_spacing, part_sizes, part_thickness});
  input.scale.mm_per_unit = parts.unit.mm_per_unit;
  input.scale.unit_confidence = parts.unit.confidence;
  if (options.up) {
    parts.up = *options.up;
  } else {
    const Box box = [&] {
      Box b = shapes[0].box;
      for (const Shape& s : shapes)
        for (int k = 0; k < 3; ++k) {
          b.min[k] = std::min(b.min[k], s.box.min[k]);
          b.max[k] = std::max(b.max[k], s.box.max[k]);
        }
      return b;
    }();
    const Vec3 size = box.max - box.min;
    parts.up = size.z > size.y ? UpAxis::Z : UpAxis::Y;
  }

  std::vector<Verdict> verdicts = assign_roles(input);
  const TrimGroups groups = group_trims(input, verdicts);

  parts.component_of_face = components.of_face;
  parts.component_of_vertex.resize(mesh.positions.size());
  for (std::size_t v = 0; v < mesh.positions.size(); ++v)
    parts.component_of_vertex[v] = components.of_welded[welded.to_welded[v]];
  parts.components.resize(components.count());
  for (Index c = 0; c < components.count(); ++c) {
    Component& part = parts.components[c];
    part.role = verdicts[c].role;
    part.confidence = verdicts[c].confidence;
    part.uncertain = part.confidence < options.uncertain_below;
    part.reasons = reasons_of(input, c, verdicts[c]);
    part.trim = groups.of_component[c];
    list_ranges(components.faces_of(c), part.faces);
  }
  std::vector<Index> offsets(components.count() + std::size_t{1}, 0);
  for (const Index c : parts.component_of_vertex)
    if (c != kNone) ++offsets[c + std::size_t{1}];
  std::partial_sum(offsets.begin(), offsets.end(), offsets.begin());
  std::vector<Index> vertices(offsets.back());
  std::vector<Index> next(offsets.begin(), offsets.end() - 1);
  for (std::size_t v = 0; v < mesh.positions.size(); ++v)
    if (parts.component_of_vertex[v] != kNone) vertices[next[parts.component_of_vertex[v]]++] = static_cast<Index>(v);
  for (Index c = 0; c < components.count(); ++c)
    list_ranges(std::span<const Index>(vertices).subspan(offsets[c], offsets[c + 1] - offsets[c]),
                parts.components[c].vertices);

  const PrototypeMap prototypes = find_prototypes(input, groups, kCongruent);
  std::vector<Vec3> centres(groups.count());
  std::vector<double> sizes(groups.count());
  parts.trims.resize(groups.count());
  for (Index t = 0; t < groups.count(); ++t) {
    Trim& trim = parts.trims[t];
    const auto own = groups.components_of(t);
    trim.components.assign(own.begin(), own.end());
    trim.role = verdicts[own[0]].role;
    trim.prototype = prototypes.of_trim[t];
    trim.mirrored = prototypes.mirrored[t] != 0;
    trim.scale = prototypes.scale[t];
    trim.placement = prototypes.placement[t];
    std::array<char, 32> name{};
    std::snprintf(name.data(), name.size(), "%s-%u", trim.role == Role::Trim ? "trim" : "stitch", t + 1);
    trim.name = name.data();
    double area = 0;
    for (const Index c : own) {
      centres[t] += shapes[c].area * shapes[c].centroid;
      area += shapes[c].area;
      sizes[t] = std::max(sizes[t], shapes[c].extents[0]);
    }
    centres[t] = area > 0 ? (1.0 / area) * centres[t] : shapes[own[0]].centroid;
  }
  parts.prototypes.resize(prototypes.first_trim.size());
  for (Index p = 0; p < parts.prototypes.size(); ++p) {
    Prototype& prototype = parts.prototypes[p];
    prototype.trim = prototypes.first_trim[p];
    prototype.name = parts.trims[prototype.trim].name;
    Index largest = groups.components_of(prototype.trim)[0];
    for (const Index c : groups.components_of(prototype.trim))
      if (shapes[c].extents[0] > shapes[largest].extents[0]) largest = c;
    prototype.size = {shapes[largest].extents[0], shapes[largest].extents[1], shapes[largest].extents[2]};
  }
  for (Index t = 0; t < groups.count(); ++t) {
    Prototype& prototype = parts.prototypes[parts.trims[t].prototype];
    ++prototype.count;
    prototype.residual = std::max(prototype.residual, prototypes.residual[t]);
  }
  parts.rows = find_rows(parts.trims, centres, sizes);
  for (Index r = 0; r < parts.rows.size(); ++r)
    for (const Index t : parts.rows[r].trims) parts.trims[t].row = r;
  if (parts.unit.confidence < 0.7)
    add(report,
        {Severity::Note, "unit-unsure", "the unit could not be deduced with confidence; give --unit", mesh.file});
  return parts;
}

}  // namespace trimtack
