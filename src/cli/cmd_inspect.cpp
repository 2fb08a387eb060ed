// SPDX-License-Identifier: MIT
#include <algorithm>
#include <numeric>

#include "cli/folder.hpp"
#include "cli/named_files.hpp"
#include "cli/precision_warning.hpp"
#include "cli/summary.hpp"

namespace trimtack::cli {
namespace {

Index count_of(const std::vector<IndexRange>& ranges) {
  return std::accumulate(ranges.begin(), ranges.end(), Index{0},
                         [](Index sum, const IndexRange& range) { return sum + range.end - range.first; });
}

/// Uncertain components first, least sure on top; then cloth by size; trims are listed as prototypes.
std::vector<Index> worst_first(const Parts& parts) {
  std::vector<Index> order;
  for (Index c = 0; c < parts.components.size(); ++c) {
    const Component& component = parts.components[c];
    if (component.uncertain || component.role == Role::Cloth) order.push_back(c);
  }
  std::vector<Index> faces(parts.components.size());
  for (const Index c : order) faces[c] = count_of(parts.components[c].faces);
  std::stable_sort(order.begin(), order.end(), [&](Index a, Index b) {
    const Component &p = parts.components[a], &q = parts.components[b];
    if (p.uncertain != q.uncertain) return p.uncertain;
    if (p.uncertain) return p.confidence < q.confidence;
    return faces[a] > faces[b];
  });
  return order;
}

std::string pad(std::string text, std::size_t width) {
  if (text.size() < width) text.resize(width, ' ');
  return text;
}

std::string join_reasons(const std::vector<std::string>& reasons, std::size_t most) {
  std::string text;
  for (std::size_t i = 0; i < reasons.size() && i < most; ++i) text += (i == 0 ? "" : "; ") + reasons[i];
  return text;
}

void say_components(const Session& session, const Parts& parts) {
  constexpr std::size_t kMost = 40;
  const std::vector<Index> order = worst_first(parts);
  const std::string on = session.colours() ? "\033[1;33m" : "", off = session.colours() ? "\033[0m" : "";
  session.say("\ncomponents (uncertain first, then cloth by size)");
  session.say("  " + pad("id", 8) + pad("role", 11) + pad("sure", 6) + pad("faces", 9) + "why");
  for (std::size_t i = 0; i < order.size() && i < kMost; ++i) {
    const Component& component = parts.components[order[i]];
    const std::string line = "  " + pad(std::to_string(order[i]), 8) + pad(to_text(component.role), 11) +
                             pad(fixed(100 * component.confidence, 0) + "%", 6) +
                             pad(std::to_string(count_of(component.faces)), 9) +
                             (component.uncertain ? "UNCERTAIN: " : "") + join_reasons(component.reasons, 3);
    session.say(component.uncertain ? on + line + off : line);
  }
  if (order.size() > kMost) session.say("  and " + std::to_string(order.size() - kMost) + " more; --json lists all");
}

void say_prototypes(const Session& session, const Parts& parts) {
  constexpr std::size_t kMost = 40;
  std::vector<Index> order(parts.prototypes.size());
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(),
                   [&](Index a, Index b) { return parts.prototypes[a].count > parts.prototypes[b].count; });
  if (order.empty()) return;
  session.say("\ntrims and stitches, copies together");
  session.say("  " + pad("copies", 8) + pad("role", 11) + pad("example", 24) + "size");
  for (std::size_t i = 0; i < order.size() && i < kMost; ++i) {
    const Prototype& prototype = parts.prototypes[order[i]];
    const Role role = prototype.trim < parts.trims.size() ? parts.trims[prototype.trim].role : Role::Trim;
    session.say("  " + pad(std::to_string(prototype.count), 8) + pad(to_text(role), 11) + pad(prototype.name, 22) +
                "  " + prototype_size(parts, prototype));
  }
  if (order.size() > kMost) session.say("  and " + std::to_string(order.size() - kMost) + " more; --json lists all");
}

void say_rows(const Session& session, const Parts& parts) {
  static constexpr const char* kKinds[] = {"row", "zipper side", "stitch line"};
  constexpr std::size_t kMost = 20;
  if (!parts.rows.empty()) session.say("\nrows");
  for (std::size_t i = 0; i < parts.rows.size() && i < kMost; ++i) {
    const Row& row = parts.rows[i];
    session.say("  " + pad(kKinds[static_cast<std::size_t>(row.kind)], 14) + plural(row.trims.size(), "trim", "trims") +
                ", " + fixed(row.pitch * parts.unit.mm_per_unit, 2) + " mm apart");
  }
  if (parts.rows.size() > kMost)
    session.say("  and " + std::to_string(parts.rows.size() - kMost) + " more; --json lists all");
}

std::string components_json(const Parts& parts) {
  std::vector<std::string> items;
  for (const Index c : worst_first(parts)) {
    const Component& component = parts.components[c];
    items.push_back(JsonObject()
                        .whole("id", c)
                        .text("role", to_text(component.role))
                        .number("confidence", component.confidence)
                        .flag("uncertain", component.uncertain)
                        .raw("reasons", json_strings(component.reasons))
                        .id("trim", component.trim)
                        .whole("faces", count_of(component.faces))
                        .whole("vertices", count_of(component.vertices))
                        .done());
  }
  return json_list(items);
}

std::string prototypes_json(const Parts& parts) {
  std::vector<std::string> items;
  for (const Prototype& prototype : parts.prototypes) {
    const double mm = parts.unit.mm_per_unit;
    std::string size;
    json_text::append_vec3(size, mm * prototype.size);
    items.push_back(JsonObject()
                        .text("name", prototype.name)
                        .id("trim", prototype.trim)
                        .whole("count", prototype.count)
                        .raw("size_mm", size)
                        .text("trade_size", prototype.trade_size)
                        .number("trade_confidence", prototype.trade_confidence)
                        .done());
  }
  return json_list(items);
}

}  // namespace

int run(const InspectOptions& options) {
  Session session("inspect", options.common);
  const std::array<NamedFile, 1> named{{{"--picture", options.picture}}};
  if (auto usable = check_named_files(named); !usable) return session.fail(usable.error());
  Result<SourceMesh> combined = read_combined(session, options.input);
  if (!combined) return session.fail(combined.error());
  session.progress("finding the parts");
  const Result<Garment> garment = take_apart(
      std::move(*combined), pipeline_options(options.common, options.selectors, session.executor()), session.report());
  if (!garment) return session.fail(garment.error());
  warn_of_precision(session, position_precision(garment->combined), *garment);
  const Parts& parts = garment->parts;
  say_parts(session, parts);
  for (const std::string& reason : parts.unit.reasons) session.say("  unit: " + reason);
  say_components(session, parts);
  say_prototypes(session, parts);
  say_rows(session, parts);
  if (auto drawn = draw_parts(options.picture, *garment); !drawn) return session.fail(drawn.error());
  if (!options.picture.empty()) session.say("wrote " + options.picture);
  JsonObject answer = parts_summary(parts);
  answer.raw("unit_reasons", json_strings(parts.unit.reasons))
      .raw("listed", components_json(parts))
      .raw("prototype_list", prototypes_json(parts));
  return session.finish(answer);
}

}  // namespace trimtack::cli
