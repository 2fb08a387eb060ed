// SPDX-License-Identifier: MIT
#include "io/obj_merge.hpp"

#include <algorithm>
#include <limits>
#include <string>
#include <utility>

#include "io/obj_text.hpp"

namespace trimtack::obj {
namespace {

void count_block(Counts& counts, const Block& block) {
  counts.elements[kPositions] += static_cast<std::int64_t>(block.positions.size);
  counts.elements[kTexcoords] += static_cast<std::int64_t>(block.texcoords.size);
  counts.elements[kNormals] += static_cast<std::int64_t>(block.normal_count);
  counts.faces += block.face_ends.size;
  counts.corners += block.lists[kCornerPosition].size;
  counts.loose += block.loose.size();
}

template <class T>
void make_room(std::vector<T>& list, std::size_t count) {
  if (count > list.capacity()) reserve_large(list, std::max(count, list.size() + list.size() / 2));
}

template <class T>
void append(std::vector<T>& list, const Buffer<T>& items) {
  make_room(list, list.size() + items.size);
  list.insert(list.end(), items.begin(), items.end());
}

/// Appends a list that is empty until its first use; `before` elements came before this block.
template <class T>
void append_optional(std::vector<T>& list, const Buffer<T>& items, std::uint64_t before, const T& absent) {
  if (items.empty()) return;
  make_room(list, before + items.size);
  list.resize(before, absent);
  list.insert(list.end(), items.begin(), items.end());
}

/// Turns the relative indices of one list into absolute ones.
void make_absolute(Block& block, IndexList list, const Counts& before) {
  const std::int64_t base = before.elements[kCountedBy[list]];
  for (const Index slot : block.relative[list]) {
    Index& index = block.lists[list][slot];
    index = static_cast<Index>(base + static_cast<std::int32_t>(index));
  }
}

// --- states -----------------------------------------------------------------------------------------------------

bool ends_with_mtl(std::string_view text) {
  constexpr std::string_view kEnding = ".mtl";
  if (text.size() < kEnding.size()) return false;
  for (std::size_t i = 0; i < kEnding.size(); ++i) {
    const char c = text[text.size() - kEnding.size() + i];
    if ((c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c) != kEnding[i]) return false;
  }
  return true;
}

/// Names on one `mtllib` line: each ends with ".mtl" at a blank; what is left over is one more.
void add_libraries(const std::string& rest, NameTable& libraries) {
  const std::string_view text(rest);
  std::size_t first = 0;
  for (std::size_t at = 0; at <= text.size(); ++at) {
    const bool last = at == text.size();
    if (!last && (!is_blank(text[at]) || !ends_with_mtl(text.substr(first, at - first)))) continue;
    std::string name = name_from(text.substr(first, at - first));
    if (!name.empty()) libraries.add(std::move(name));
    first = at;
  }
}

void apply(Merge& merge, const StateEvent& event, Index face) {
  std::string name = name_from(event.rest);
  switch (event.kind) {
    case Event::Object:
      merge.state.object = merge.objects.add(std::move(name));
      break;
    case Event::Group:
      merge.state.group = merge.groups.add(std::move(name));
      break;
    case Event::Smoothing:
      merge.state.smoothing = merge.smoothings.add(std::move(name));
      break;
    case Event::Material:
      merge.state.material = merge.materials.add(std::move(name));
      break;
    case Event::Library:
      add_libraries(name, merge.libraries);
      return;
  }
  std::vector<StateRun>& runs = merge.mesh.states;
  if (!runs.empty() && runs.back().first_face == face) runs.pop_back();
  if (merge.state != (runs.empty() ? FaceState{} : runs.back().state)) runs.push_back({face, merge.state});
}

LooseElement loose_element(const Block& block, const LooseItem& item, Index face_base, const FaceState& state) {
  const auto slice = [&](IndexList list) {
    const Index* const first = block.lists[list].begin() + item.first;
    return std::vector<Index>(first, first + item.count);
  };
  LooseElement element{item.kind, slice(kLooseVertex), {}, face_base + item.face, state};
  if (!block.lists[kLooseTexcoord].empty()) {
    element.texcoords = slice(kLooseTexcoord);
    const std::vector<Index>& t = element.texcoords;
    if (std::all_of(t.begin(), t.end(), [](Index i) { return i == kNone; })) element.texcoords.clear();
  }
  return element;
}

void append_states(Block& block, const Counts& before, Merge& merge) {
  make_absolute(block, kLooseVertex, before);
  make_absolute(block, kLooseTexcoord, before);
  const auto face_base = static_cast<Index>(before.faces);
  std::size_t event = 0;
  for (std::size_t i = 0; i <= block.loose.size(); ++i) {
    for (; event < block.events.size() && block.events[event].loose == i; ++event) {
      apply(merge, block.events[event], face_base + block.events[event].face);
    }
    if (i == block.loose.size()) break;
    merge.mesh.loose.push_back(loose_element(block, block.loose[i], face_base, merge.state));
  }
}

// --- arrays -----------------------------------------------------------------------------------------------------

void append_corners(Block& block, const Counts& before, IndexList list, std::vector<Index>& to) {
  make_absolute(block, list, before);
  append_optional(to, block.lists[list], before.corners, kNone);
}

void append_face_ends(const Block& block, const Counts& before, std::vector<Index>& offsets) {
  make_room(offsets, before.faces + block.face_ends.size + 1);
  const auto base = static_cast<Index>(before.corners);
  for (const Index end : block.face_ends) offsets.push_back(base + end);
}

/// Keeps every position_step-th place; twice the step when there are too many.
void append_some(const Buffer<std::uint64_t>& position_at, std::uint64_t before, Merge& merge) {
  constexpr std::size_t kMost = 4096;
  std::uint64_t& step = merge.position_step;
  std::vector<std::uint64_t>& list = merge.some_position_at;
  for (std::uint64_t i = (step - before % step) % step; i < position_at.size; i += step) {
    if (list.size() == kMost) {
      for (std::size_t k = 0; k < kMost / 2; ++k) list[k] = list[2 * k];
      list.resize(kMost / 2);
      step *= 2;
    }
    list.push_back(position_at[i]);
  }
}

void append_arrays(Block& block, const Counts& before, Merge& merge) {
  SourceMesh& mesh = merge.mesh;
  const auto elements_before = [&](Counted counted) { return static_cast<std::uint64_t>(before.elements[counted]); };
  const std::uint64_t positions = elements_before(kPositions);
  append(mesh.positions, block.positions);
  append(mesh.texcoords, block.texcoords);
  append(mesh.normals, block.normals);
  append_corners(block, before, kCornerPosition, mesh.corner_position);
  append_corners(block, before, kCornerTexcoord, mesh.corner_texcoord);
  append_corners(block, before, kCornerNormal, mesh.corner_normal);
  append_face_ends(block, before, mesh.face_offsets);
  append_some(block.position_at, positions, merge);
  append_optional(mesh.position_weights, block.position_weights, positions, kAbsent);
  append_optional(mesh.colours, block.colours, positions, kNoColour);
  append_optional(mesh.colour_alpha, block.colour_alpha, positions, kAbsent);
  append_optional(mesh.texcoord_w, block.texcoord_w, elements_before(kTexcoords), kAbsent);
}

void summarise(const Block& block, const Counts& before, Merge& merge) {
  BlockSummary summary{block.begin,   block.end,         block.checksum, before.elements,
                       block.largest, block.plain_lines, false};
  for (std::size_t k = 0; k < 3; ++k) {
    if (block.lowest[k] + before.elements[k] < 0) summary.reaches_before_start = true;
  }
  merge.summaries.push_back(summary);
  merge.statements += block.statements;
  for (std::size_t kind = 0; kind < kLeftOutKinds; ++kind) {
    const LeftOutCount& here = block.left_out[kind];
    LeftOutCount& all = merge.left_out[kind];
    if (all.count == 0) {
      all = here;
    } else {
      all.count += here.count;
    }
  }
}

/// Statements of each kind in a part of the text, roughly (no continuations, no odd blanks).
struct Sample {
  double v = 0, vt = 0, vn = 0, f = 0, corners = 0, bytes = 0;
};

void sample_lines(const char* p, const char* end, Sample& sample) {
  while (p < end) {
    const char* const stop = line_end(p, end);
    if (end - p > 2 && *p == 'v') {
      sample.v += p[1] == ' ' ? 1 : 0;
      sample.vt += p[1] == 't' ? 1 : 0;
      sample.vn += p[1] == 'n' ? 1 : 0;
    } else if (*p == 'f') {
      ++sample.f;
      for (const char* c = p + 1; c < stop; ++c) sample.corners += is_blank(c[-1]) && !is_blank(*c) ? 1 : 0;
    }
    p = stop + 1;
  }
}

}  // namespace

Result<void> reserve_by_sample(const Input& input, bool leave_normals, Merge& merge) {
  constexpr std::size_t kSlices = 256;
  constexpr std::size_t kSliceBytes = 2048;
  if (input.size < 8 * kSlices * kSliceBytes) return {};
  Sample sample;
  std::string room;
  for (std::size_t i = 0; i < kSlices; ++i) {
    const std::uint64_t at = (input.size - kSliceBytes) / kSlices * i;
    const Result<std::string_view> slice = input.read(at, at + kSliceBytes, room);
    if (!slice) return slice.error();
    // Whole lines.
    const char* const begin = line_end(slice->data(), slice->data() + slice->size());
    const char* last = slice->data() + slice->size();
    while (last != begin && !is_line_end(last[-1])) --last;
    sample_lines(begin, last, sample);
    sample.bytes += static_cast<double>(last - begin);
  }
  // A little more than promised: being short costs a copy, being long only address space.
  const double scale = 1.04 * static_cast<double>(input.size) / std::max(sample.bytes, 1.0);
  // Whatever the sample says, no statement is shorter than these bytes.
  const auto places = [&](double count, std::size_t least_bytes) {
    return std::min(static_cast<std::size_t>(scale * count) + 4096, input.size / least_bytes);
  };
  constexpr std::size_t kLeastV = 8;       // "v 1 1 1\n"
  constexpr std::size_t kLeastVt = 5;      // "vt 1\n"
  constexpr std::size_t kLeastVn = 9;      // "vn 1 1 1\n"
  constexpr std::size_t kLeastFace = 8;    // "f 1 1 1\n"
  constexpr std::size_t kLeastCorner = 2;  // " 1"
  SourceMesh& mesh = merge.mesh;
  reserve_large(mesh.positions, places(sample.v, kLeastV));
  reserve_large(mesh.texcoords, places(sample.vt, kLeastVt));
  if (!leave_normals) reserve_large(mesh.normals, places(sample.vn, kLeastVn));
  reserve_large(mesh.face_offsets, places(sample.f, kLeastFace));
  reserve_large(mesh.corner_position, places(sample.corners, kLeastCorner));
  if (sample.vt > 0) reserve_large(mesh.corner_texcoord, places(sample.corners, kLeastCorner));
  if (sample.vn > 0) reserve_large(mesh.corner_normal, places(sample.corners, kLeastCorner));
  return {};
}

void append_block(Block& block, Merge& merge) {
  const Counts before = merge.counts;
  count_block(merge.counts, block);
  summarise(block, before, merge);
  append_arrays(block, before, merge);
  append_states(block, before, merge);
}

void finish(Merge& merge) {
  SourceMesh& mesh = merge.mesh;
  const auto close = [](auto& list, std::size_t count, const auto& absent) {
    if (!list.empty()) list.resize(count, absent);
  };
  close(mesh.position_weights, mesh.positions.size(), kAbsent);
  close(mesh.colours, mesh.positions.size(), kNoColour);
  close(mesh.colour_alpha, mesh.positions.size(), kAbsent);
  close(mesh.texcoord_w, mesh.texcoords.size(), kAbsent);
  close(mesh.corner_texcoord, mesh.corner_position.size(), kNone);
  close(mesh.corner_normal, mesh.corner_position.size(), kNone);
  while (!mesh.states.empty() && mesh.states.back().first_face >= mesh.face_count()) mesh.states.pop_back();
}

std::uint64_t memory_of(const Merge& merge) {
  const SourceMesh& mesh = merge.mesh;
  const auto bytes = [](const auto& list) { return std::uint64_t{list.size()} * sizeof(list[0]); };
  std::uint64_t sum = bytes(mesh.positions) + bytes(mesh.position_weights) + bytes(mesh.colours) +
                      bytes(mesh.colour_alpha) + bytes(mesh.texcoords) + bytes(mesh.texcoord_w) + bytes(mesh.normals) +
                      bytes(mesh.face_offsets) + bytes(mesh.corner_position) + bytes(mesh.corner_texcoord) +
                      bytes(mesh.corner_normal) + bytes(mesh.states) + bytes(mesh.loose);
  constexpr std::uint64_t kHeapBlock = 32;
  sum += kHeapBlock * mesh.loose.size();
  for (const auto* names : {&mesh.objects, &mesh.groups, &mesh.smoothings, &mesh.materials, &mesh.material_libraries}) {
    sum += 3 * bytes(*names);
  }
  return sum;
}

}  // namespace trimtack::obj
