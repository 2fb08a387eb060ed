// SPDX-License-Identifier: MIT
#include "cli/summary.hpp"

#include <array>

namespace trimtack::cli {
namespace {

struct Counts {
  std::array<std::uint64_t, 3> components{};
  std::uint64_t uncertain = 0, trims = 0, stitches = 0;
};

Counts count(const Parts& parts) {
  Counts counts;
  for (const Component& component : parts.components) {
    ++counts.components[static_cast<std::size_t>(component.role)];
    counts.uncertain += component.uncertain ? 1U : 0U;
  }
  for (const Trim& trim : parts.trims) ++(trim.role == Role::Stitching ? counts.stitches : counts.trims);
  return counts;
}

}  // namespace

JsonObject parts_summary(const Parts& parts) {
  const Counts counts = count(parts);
  JsonObject components;
  components.whole("cloth", counts.components[0])
      .whole("trim", counts.components[1])
      .whole("stitching", counts.components[2])
      .whole("uncertain", counts.uncertain);
  JsonObject answer;
  answer.text("source", parts.source_file)
      .whole("faces", parts.source_faces)
      .whole("vertices", parts.source_vertices)
      .text("unit", parts.unit.name)
      .number("unit_confidence", parts.unit.confidence)
      .text("up", parts.up == UpAxis::Y ? "y" : "z")
      .raw("components", components.done())
      .whole("trims", counts.trims)
      .whole("stitches", counts.stitches)
      .whole("prototypes", parts.prototypes.size())
      .whole("rows", parts.rows.size());
  return answer;
}

void say_parts(const Session& session, const Parts& parts) {
  const Counts counts = count(parts);
  session.say(plural(parts.source_faces, "face", "faces") + ", " + plural(parts.source_vertices, "vertex", "vertices") +
              ", unit " + parts.unit.name +
              (parts.unit.confidence < 1 ? " (deduced, " + fixed(100 * parts.unit.confidence, 0) + " % sure)" : ""));
  session.say(plural(counts.components[0], "cloth component", "cloth components") + ", " +
              plural(counts.trims, "trim", "trims") + " made of " +
              plural(counts.components[1], "component", "components") + ", " +
              plural(counts.stitches, "stitch", "stitches") + ", " +
              plural(parts.prototypes.size(), "prototype", "prototypes"));
  if (counts.uncertain != 0) {
    session.say(plural(counts.uncertain, "component is", "components are") +
                " uncertain: look at them with trimtack inspect, settle them with --cloth and --trim");
  }
}

std::string size_text(std::uint64_t bytes) {
  if (bytes < 1000) return std::to_string(bytes) + " B";
  if (bytes < 1'000'000) return fixed(static_cast<double>(bytes) / 1e3, 1) + " kB";
  return fixed(static_cast<double>(bytes) / 1e6, 1) + " MB";
}

void say_files(const Session& session, const std::string& folder, const FileSet& files) {
  constexpr std::size_t kMost = 12;
  std::string line = "wrote " + plural(files.entries().size(), "file", "files") + " to " + folder + ": ";
  for (std::size_t i = 0; i < files.entries().size() && i < kMost; ++i) {
    const FileSet::Entry& entry = files.entries()[i];
    line += (i == 0 ? "" : ", ") + entry.name + " (" + size_text(entry.bytes) + ")";
  }
  session.say(line + (files.entries().size() > kMost ? ", ..." : ""));
}

std::string prototype_size(const Parts& parts, const Prototype& prototype) {
  const double mm = parts.unit.mm_per_unit;
  std::string text = fixed(mm * prototype.size.x, 1) + " x " + fixed(mm * prototype.size.y, 1) + " x " +
                     fixed(mm * prototype.size.z, 1) + " mm";
  if (!prototype.trade_size.empty()) text += " (" + prototype.trade_size + ")";
  return text;
}

}  // namespace trimtack::cli
