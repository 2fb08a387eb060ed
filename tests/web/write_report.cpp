// SPDX-License-Identifier: MIT
// Writes the report of the demo coat (with its planted faults) for a browser to open: write_report FILE [faults|large]
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <fstream>

#include "support/coat_fit.hpp"
#include "support/report_scene.hpp"
#include "trimtack/io/report_html.hpp"

using namespace trimtack;

int main(int argc, char** argv) {
  if (argc < 2) return 2;
  if (argc > 2 && std::string(argv[2]) == "large") {
    const test::ReportScene scene(20'000, 200, 400);
    std::ofstream(argv[1], std::ios::binary) << write_report_html(scene.input());
    return 0;
  }
  DemoOptions options;
  options.faults = argc > 2;
  if (argc > 3) options.seed = std::strtoull(argv[3], nullptr, 10);
  const test::CoatFit coat = test::coat_fit(options);
  FitSummary summary = test::measure_coat(coat);
  std::vector<Index> layers;
  for (const Binding& b : coat.table.bindings) layers.push_back(b.layer);
  std::vector<Index> component_of_triangle;
  for (const Index f : coat.cloth.triangles.face) component_of_triangle.push_back(coat.cloth.component_of_face[f]);
  ReportInput input;
  input.title = "Workshop chore coat";
  input.fit = &summary;
  input.parts = &coat.parts;
  input.trim_names = coat.trims.name;
  input.trim_roles = coat.trims.role;
  input.trim_ids = coat.trims.id;
  input.trim_layers = layers;
  input.trim_vertex_offsets = coat.trims.vertex_offsets;
  input.trim_triangle_offsets = coat.trims.triangle_offsets;
  input.trim_vertices = coat.trims.vertices;
  input.trim_triangles = coat.trims.triangles;
  input.cloth_triangles = coat.cloth.triangles.triangles;
  input.component_of_triangle = component_of_triangle;
  input.settings = {{"frames", std::to_string(coat.demo.frames.size())}};
  input.shots.push_back({0, coat.cloth.positions, std::vector<Pose>(coat.table.bindings.size())});
  for (const std::uint64_t frame : frames_worth_a_look(summary, 5)) {
    const auto deformed = coat.cloth_frame(frame - 1);
    std::vector<PoseQuality> quality;
    input.shots.push_back({frame, deformed, coat.poses(deformed, quality)});
  }
  input.picture = picture_of(coat.demo.combined, coat.parts);
  mark_verdicts(input.picture, coat.parts, summary, coat.trims.id);
  number_worst_first(input.picture, summary, coat.trims.id);
  input.picture.width = 1000;
  input.picture.label_size = 15;
  const std::string page = write_report_html(input);
  std::ofstream(argv[1], std::ios::binary) << page;
  for (const Index t : worst_first(summary)) {
    const TrimFit& trim = summary.trims[t];
    if (trim.verdict != Verdict::Fault) continue;
    std::printf("%-5s %-28s %-11s %9.3f frame %2d  %s\n", to_text(trim.verdict), coat.trims.name[t].c_str(),
                info_of(trim.cause).name, trim[trim.cause].value, static_cast<int>(trim[trim.cause].frame),
                trim.advice.c_str());
    std::vector<int> votes(coat.demo.truth.trim_names.size(), 0);
    for (Index f = 0; f < coat.demo.truth.trim_of_face.size(); ++f) {
      const int owner = coat.demo.truth.trim_of_face[f];
      if (owner >= 0 && coat.parts.components[coat.parts.component_of_face[f]].trim == coat.trims.id[t]) ++votes[owner];
    }
    for (std::size_t k = 0; k < votes.size(); ++k) {
      if (votes[k] > 0) std::printf("     really %s\n", coat.demo.truth.trim_names[k].c_str());
    }
    std::printf("     layer %u gap %.3f from %.3f to %.3f order %d radius %.1f\n", coat.table.bindings[t].layer,
                trim.gap_rest, trim.gap_min, trim.gap_max, coat.table.bindings[t].order, coat.table.bindings[t].radius);
  }
  const auto show = [&](const char* what, Index planted) {
    const Index t = planted == kNone ? kNone : coat.find(planted);
    if (planted != kNone && t == kNone) {
      for (Index f = 0; f < coat.demo.truth.trim_of_face.size(); ++f) {
        if (coat.demo.truth.trim_of_face[f] != static_cast<int>(planted)) continue;
        const Component& c = coat.parts.components[coat.parts.component_of_face[f]];
        std::printf("planted %s is no trim: component %u, %s, confidence %.2f\n", what, coat.parts.component_of_face[f],
                    to_text(c.role), c.confidence);
        for (const std::string& reason : c.reasons) std::printf("   %s\n", reason.c_str());
        break;
      }
    }
    if (t == kNone) return;
    const TrimFit& trim = summary.trims[t];
    const Binding& b = coat.table.bindings[t];
    std::printf("planted %s: %s (%s), rest gap %.3f, layer %u runner up %u order %d radius %.1f\n", what,
                coat.trims.name[t].c_str(), coat.demo.truth.trim_names[planted].c_str(), trim.gap_rest, b.layer,
                b.runner_up, b.order, b.radius);
    for (std::size_t i = 0; i < kMeasureCount; ++i) {
      std::printf("   %s %.3f @%d", measure_infos()[i].name, trim.worst[i].value,
                  static_cast<int>(trim.worst[i].frame));
    }
    std::printf("\n");
  };
  const DemoFaults& faults = coat.demo.truth.faults;
  show("wrong layer", faults.wrong_layer), show("too long", faults.too_long), show("sliver", faults.sliver);
  show("collapsed", faults.collapsed);
  std::printf("%zu trims, page of %zu bytes\n", summary.trims.size(), page.size());
  return 0;
}
