// SPDX-License-Identifier: MIT
// Near matches by edit distance (Wagner & Fischer 1974).
#include "stages/find/settle.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <numeric>
#include <string>
#include <string_view>

namespace trimtack {
namespace {

char lower(char c) { return static_cast<char>(std::tolower(static_cast<unsigned char>(c))); }

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 0; i < a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i + 1;
    for (std::size_t j = 0; j < b.size(); ++j) {
      const std::size_t change = diagonal + (lower(a[i]) == lower(b[j]) ? 0 : 1);
      diagonal = row[j + 1];
      row[j + 1] = std::min({change, row[j] + 1, row[j + 1] + 1});
    }
  }
  return row.back();
}

std::vector<std::string_view> split_names(std::string_view line) {
  std::vector<std::string_view> names{line};
  if (line.find(' ') == std::string_view::npos) return names;
  for (std::size_t begin = 0; begin < line.size();) {
    const std::size_t end = std::min(line.find(' ', begin), line.size());
    if (end > begin) names.push_back(line.substr(begin, end - begin));
    begin = end + 1;
  }
  return names;
}

/// Which entries of a name table match.
std::vector<std::uint8_t> matching(std::span<const std::string> table, std::string_view pattern) {
  std::vector<std::uint8_t> out(table.size(), 0);
  for (std::size_t i = 0; i < table.size(); ++i)
    for (const std::string_view name : split_names(table[i]))
      if (matches_pattern(name, pattern)) out[i] = 1;
  return out;
}

std::string near_names(std::span<const std::string> a, std::span<const std::string> b, std::string_view pattern) {
  std::string wanted;
  for (const char c : pattern)
    if (c != '*' && c != '?') wanted += c;
  struct Near {
    std::size_t distance;
    std::string_view name;
    bool operator<(const Near& o) const { return distance != o.distance ? distance < o.distance : name < o.name; }
    bool operator==(const Near& o) const { return name == o.name; }
  };
  std::vector<Near> near;
  for (const auto& table : {a, b})
    for (const std::string& line : table)
      for (const std::string_view name : split_names(line))
        near.push_back({edit_distance(name.substr(0, 60), wanted), name});
  std::sort(near.begin(), near.end());
  near.erase(std::unique(near.begin(), near.end()), near.end());
  if (near.empty()) return "the mesh has no such names";
  std::string text = "the nearest are";
  for (std::size_t i = 0; i < std::min<std::size_t>(3, near.size()); ++i)
    text += std::string(i > 0 ? ", '" : " '") + std::string(near[i].name) + "'";
  return text;
}

Error nothing(const SourceMesh& mesh, const std::string& what, const std::string& help) {
  return Error{ErrorCode::Usage, what + " matches nothing; " + help, mesh.file, 0};
}

Result<Selection> select_number(const SourceMesh& mesh, const ComponentMap& components, const Override& s) {
  const bool face = s.kind == SelectorKind::Face;
  const Index count = face ? mesh.face_count() : components.count();
  Index number = 0;
  const char* end = s.pattern.data() + s.pattern.size();
  const auto [stop, code] = std::from_chars(s.pattern.data(), end, number);
  if (code != std::errc{} || stop != end || number >= count || (face && components.of_face[number] == kNone))
    return nothing(mesh, (face ? "face '" : "component '") + s.pattern + "'",
                   "give a number from 0 to " + std::to_string(count - 1));
  return Selection{{face ? components.of_face[number] : number}, {}};
}

}  // namespace

bool matches_pattern(std::string_view text, std::string_view pattern) {
  // Greedy with one point to fall back to: the last * and how far it reached.
  std::size_t t = 0;
  std::size_t p = 0;
  std::size_t star = std::string_view::npos;
  std::size_t reached = 0;
  while (t < text.size()) {
    if (p < pattern.size() && pattern[p] == '*') {
      star = p++;
      reached = t;
    } else if (p < pattern.size() && (pattern[p] == '?' || lower(pattern[p]) == lower(text[t]))) {
      ++p;
      ++t;
    } else if (star != std::string_view::npos) {
      p = star + 1;
      t = ++reached;
    } else {
      return false;
    }
  }
  while (p < pattern.size() && pattern[p] == '*') ++p;
  return p == pattern.size();
}

Result<Selection> select(const SourceMesh& mesh, const ComponentMap& components, const Override& s) {
  if (s.kind == SelectorKind::Component || s.kind == SelectorKind::Face) return select_number(mesh, components, s);
  const bool material = s.kind == SelectorKind::Material;
  const auto objects = matching(material ? std::span<const std::string>(mesh.materials) : mesh.objects, s.pattern);
  const auto groups = material ? std::vector<std::uint8_t>{} : matching(mesh.groups, s.pattern);
  const auto hit = [](const std::vector<std::uint8_t>& table, Index i) { return i < table.size() && table[i] != 0; };
  std::vector<Index> matched(components.count(), 0);
  std::size_t run = 0;
  FaceState state;
  for (Index f = 0; f < mesh.face_count(); ++f) {
    while (run < mesh.states.size() && mesh.states[run].first_face <= f) state = mesh.states[run++].state;
    if (components.of_face[f] == kNone) continue;
    if (material ? hit(objects, state.material) : hit(objects, state.object) || hit(groups, state.group))
      ++matched[components.of_face[f]];
  }
  Selection out;
  for (Index c = 0; c < components.count(); ++c) {
    if (2 * static_cast<std::size_t>(matched[c]) >= components.faces_of(c).size())
      out.components.push_back(c);
    else if (matched[c] > 0)
      out.partly.push_back(c);
  }
  if (!out.components.empty()) return out;
  const std::string what = (material ? "material '" : "name '") + s.pattern + "'";
  if (!out.partly.empty())
    return nothing(mesh, what,
                   "it names only a smaller part of component " + std::to_string(out.partly.front()) +
                       ", which is welded to the rest; cut it off first or select the component");
  return nothing(
      mesh, what,
      material ? near_names(mesh.materials, {}, s.pattern) : near_names(mesh.objects, mesh.groups, s.pattern));
}

Result<void> take_edited_roles(const ComponentMap& components, const Parts& edited, std::span<RoleVerdict> verdicts,
                               std::vector<std::uint8_t>& settled) {
  const auto other = [&](const std::string& what) {
    return Error{ErrorCode::BadInput, "the edited parts list does not belong to this mesh: " + what, edited.source_file,
                 0};
  };
  if (edited.components.size() != components.count())
    return other("it lists " + std::to_string(edited.components.size()) + " components, the mesh has " +
                 std::to_string(components.count()));
  for (Index c = 0; c < components.count(); ++c) {
    std::size_t at = 0;
    const auto faces = components.faces_of(c);
    bool same = true;
    for (const IndexRange& r : edited.components[c].faces)
      for (Index f = r.first; f < r.end && same; ++f) same = at < faces.size() && faces[at++] == f;
    if (!same || at != faces.size()) return other("component " + std::to_string(c) + " has other faces");
  }
  for (Index c = 0; c < components.count(); ++c) {
    if (edited.components[c].role == verdicts[c].role) continue;
    verdicts[c].role = edited.components[c].role;
    settled[c] = 1;
  }
  return {};
}

TrimGroups edited_trims(const Parts& edited, std::span<RoleVerdict> verdicts) {
  TrimGroups groups;
  const Index n = static_cast<Index>(verdicts.size());
  std::vector<std::array<Index, 2>> order;  // (edited trim id, component)
  for (Index c = 0; c < n; ++c)
    if (verdicts[c].role != Role::Cloth) order.push_back({edited.components[c].trim, c});
  std::sort(order.begin(), order.end());
  groups.of_component.assign(n, kNone);
  for (std::size_t i = 0; i < order.size(); ++i) {
    const bool fresh = i == 0 || order[i][0] == kNone || order[i][0] != order[i - 1][0];
    if (fresh && i > 0) groups.offsets.push_back(static_cast<Index>(groups.components.size()));
    groups.components.push_back(order[i][1]);
    groups.of_component[order[i][1]] = static_cast<Index>(groups.offsets.size() - 1);
  }
  if (!order.empty()) groups.offsets.push_back(static_cast<Index>(groups.components.size()));
  return groups;
}

}  // namespace trimtack
