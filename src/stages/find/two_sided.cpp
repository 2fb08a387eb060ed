// SPDX-License-Identifier: MIT
// A snap has cap and socket, a rivet burr and nail, an eyelet barrel and washer; the halves lie on both faces of the
// cloth and hold it (snap makers' glossaries, denim dictionary). Layers are counted along the axis and along lines
// beside it, since the cloth may have a hole in the middle.
#include "stages/find/two_sided.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <limits>

#include "stages/find/axis_lines.hpp"
#include "stages/find/box_sweep.hpp"
#include "stages/find/cap_seats.hpp"
#include "stages/find/coaxial.hpp"
#include "stages/find/lanes.hpp"

namespace trimtack {
namespace {

constexpr double kTouch = 0.05;         // of the smaller diameter
constexpr double kTightGap = 0.35;      // layers sewn together are no thicker, of the same
constexpr double kThickest = 0.6;       // cloth whose sheets do not hang together, of the same
constexpr double kMostCells = 512;      // of the grid, per axis
constexpr double kWidestCell = 8;       // of it, against the probes' boxes
constexpr std::size_t kFewCells = 16;   // that are looked into at once
constexpr Index kBlock = 8;             // faces looked at together first
constexpr std::size_t kMostKinds = 64;  // of fastenings
constexpr Index kFewHalves = 128;       // of a kind, that may lie behind plates

struct Crossing {
  Index probe = 0;
  std::uint8_t ray = 0;
  double at = 0;
  Index component = 0;
  bool entering = false;  // the face looks against the axis
  friend bool operator<(const Crossing& x, const Crossing& y) {
    if (x.probe != y.probe) return x.probe < y.probe;
    if (x.ray != y.ray) return x.ray < y.ray;
    return x.at != y.at ? x.at < y.at : x.component < y.component;
  }
};

/// How a pair holds the cloth: surely, only if its kind always pairs, only if its kind does so clearly elsewhere, or
/// not.
enum class Hold : std::uint8_t { Clear, AsAlways, AsOthers, None };

Box box_of(const Probe& p) {
  const Vec3 from = p.a->middle + p.low * p.axis;
  const Vec3 to = p.a->middle + p.high * p.axis;
  Box box;
  for (int k = 0; k < 3; ++k) {
    box.min[k] = std::min(from[k], to[k]) - p.ring;
    box.max[k] = std::max(from[k], to[k]) + p.ring;
  }
  return box;
}

/// Which probes lie in which cell of a grid; cells share buckets (open hashing), boxes tell them apart.
class ProbeGrid {
 public:
  explicit ProbeGrid(std::span<const Probe> probes) {
    for (const Probe& p : probes) boxes_.push_back(box_of(p));
    all_ = boxes_.front();
    double sum = 0;
    for (const Box& box : boxes_) {
      double widest = 0;
      for (int k = 0; k < 3; ++k) {
        all_.min[k] = std::min(all_.min[k], box.min[k]);
        all_.max[k] = std::max(all_.max[k], box.max[k]);
        widest = std::max(widest, box.max[k] - box.min[k]);
      }
      sum += widest;
    }
    const Vec3 span = all_.max - all_.min;
    const double count = static_cast<double>(boxes_.size());
    const double width = sum / count;
    // So wide that one probe or so lies in a cell where they are spread over a surface.
    const double spacing = std::sqrt((span.x * span.y + span.y * span.z + span.z * span.x) / count);
    const double cell =
        std::max(std::clamp(spacing, 2 * width, kWidestCell * width), std::max({span.x, span.y, span.z}) / kMostCells);
    per_length_ = cell > 0 ? 1 / cell : 1;
    mask_ = std::bit_ceil(16 * boxes_.size()) - 1;
    start_.assign(mask_ + 2, 0);
    for (const Box& box : boxes_) each_bucket(box, [&](std::size_t bucket) { ++start_[bucket + 1]; });
    for (std::size_t i = 1; i < start_.size(); ++i) start_[i] += start_[i - 1];
    items_.resize(start_.back());
    std::vector<Index> next(start_.begin(), start_.end() - 1);
    for (std::size_t i = 0; i < boxes_.size(); ++i)
      each_bucket(boxes_[i], [&](std::size_t bucket) { items_[next[bucket]++] = static_cast<Index>(i); });
  }

  /// fn(probe) for probes whose box meets the given one; a probe may come several times.
  template <class Fn>
  void each_probe(const Box& box, Fn&& fn) const {
    if (!boxes_meet(box, all_)) return;
    each_bucket(box, [&](std::size_t bucket) {
      for (Index i = start_[bucket]; i < start_[bucket + 1]; ++i)
        if (boxes_meet(box, boxes_[items_[i]])) fn(items_[i]);
    });
  }

  /// Whether the box may meet a probe's; surely not when it says so.
  bool may_meet(const Box& box) const {
    if (!boxes_meet(box, all_)) return false;
    if (cells_of(box).count() > kFewCells) return true;
    bool any = false;
    each_probe(box, [&](Index) { any = true; });
    return any;
  }

 private:
  struct Cells {
    std::array<std::uint32_t, 3> low{}, high{};
    std::size_t count() const {
      return (std::size_t{high[0]} - low[0] + 1) * (std::size_t{high[1]} - low[1] + 1) *
             (std::size_t{high[2]} - low[2] + 1);
    }
  };
  Cells cells_of(const Box& box) const {
    Cells cells;
    for (std::size_t k = 0; k < 3; ++k) {
      const int axis = static_cast<int>(k);
      const auto cell_of = [&](double x) {
        return static_cast<std::uint32_t>(std::clamp(x, all_.min[axis], all_.max[axis]) * per_length_ -
                                          all_.min[axis] * per_length_);
      };
      cells.low[k] = cell_of(box.min[axis]);
      cells.high[k] = cell_of(box.max[axis]);
    }
    return cells;
  }

  template <class Fn>
  void each_bucket(const Box& box, Fn&& fn) const {
    const auto [low, high] = cells_of(box);
    for (std::uint32_t z = low[2]; z <= high[2]; ++z)
      for (std::uint32_t y = low[1]; y <= high[1]; ++y)
        for (std::uint32_t x = low[0]; x <= high[0]; ++x)
          fn(((x * 0x9e3779b1U) ^ (y * 0x85ebca77U) ^ (z * 0xc2b2ae3dU)) * std::uint64_t{0x27d4eb2f165667c5} >> 20U &
             mask_);
  }

  std::vector<Box> boxes_;
  Box all_;
  double per_length_ = 1;
  std::size_t mask_ = 0;
  std::vector<Index> start_, items_;
};

/// Where cloth meets the probes' lines.
struct Crossings {
  const SourceMesh& mesh;
  std::span<const Probe> probes;
  const ProbeGrid grid{probes};
  const Lines lines = lines_beside();
  std::vector<Crossing> found{};

  /// Consecutive faces; neighbours mostly, of which only few lie near a probe.
  void add_block(Index component, Index first, Index end) {
    constexpr double inf = std::numeric_limits<double>::infinity();
    LanePair low = all_lanes<LanePair>(inf), high = all_lanes<LanePair>(-inf);
    for (Index k = mesh.face_offsets[first]; k < mesh.face_offsets[end]; ++k) {
      const auto p = load<LanePair>(mesh.positions[mesh.corner_position[k]]);
      low = least(low, p);
      high = most(high, p);
    }
    const Box box{first_three(low), first_three(high)};
    if (is_finite(box.min) && is_finite(box.max) && !grid.may_meet(box)) return;
    for (Index f = first; f < end; ++f) add_face(component, mesh.face(f));
  }

  void add_face(Index component, std::span<const Index> corners) {
    if (corners.size() < 3) return;
    const auto& positions = mesh.positions;
    Box box{positions[corners[0]], positions[corners[0]]};
    for (const Index v : corners) grow(box, positions[v]);
    if (!is_finite(box.min) || !is_finite(box.max)) return;
    grid.each_probe(box, [&](Index i) {
      const Probe& probe = probes[i];
      const auto local = [&](Index v) {
        const Vec3 p = positions[v] - probe.a->middle;
        return Vec3{dot(p, probe.side), dot(p, probe.other_side), dot(p, probe.axis)};
      };
      std::array<Vec3, 3> t{local(corners[0]), {}, local(corners[1])};
      for (std::size_t k = 2; k < corners.size(); ++k) {
        t[1] = t[2];
        t[2] = local(corners[k]);
        each_crossing(probe.ring, lines, t, [&](std::size_t ray, double at, bool entering) {
          if (at < probe.low || at > probe.high) return;
          found.push_back({i, static_cast<std::uint8_t>(ray), at, component, entering});
        });
      }
    });
  }
};

std::vector<Crossing> crossings_of(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                   std::span<const Probe> probes) {
  Crossings crossings{*in.mesh, probes};
  for (Index c = 0; c < verdicts.size(); ++c) {
    if (verdicts[c].role != Role::Cloth) continue;
    in.components->faces_of(c).each_run([&](Index first, Index end) {
      for (Index f = first; f < end; f += std::min(kBlock, end - f))
        crossings.add_block(c, f, f + std::min(kBlock, end - f));
    });
  }
  std::sort(crossings.found.begin(), crossings.found.end());
  return std::move(crossings.found);
}

struct Layer {
  double from = 0, to = 0;
  double middle() const { return 0.5 * (from + to); }
};

/// Crossings along one line as layers. Cloth between a face that looks back and one that looks ahead is one thick
/// layer, whether its two sheets hang together or not; sheets that look the same way are layers of their own.
void merge_layers(const RoleInput& in, std::span<const Crossing> line, double small, std::vector<Layer>& layers) {
  layers.clear();
  const double same = 1e-6 * small;  // one face met twice, along an edge
  bool open = false;
  Crossing last;
  last.component = kNone;
  for (const Crossing& c : line) {
    if (!layers.empty() && c.at - layers.back().to <= same) continue;
    const double own = in.twin_details[in.families->twin_of_component[c.component]].thickness;
    const double apart = c.at - (layers.empty() ? -1e300 : layers.back().to);
    const bool shell = c.component == last.component && c.entering != last.entering && apart <= 1.6 * own;
    const bool sheets = last.entering && !c.entering && apart <= kThickest * small;
    last = c;
    if (open && (shell || sheets)) {
      layers.back().to = c.at;
      open = false;
      continue;
    }
    layers.push_back({c.at, c.at});
    open = true;
  }
}

double distance_to(const Layer& l, double low, double high) { return std::max({0.0, l.from - high, low - l.to}); }

/// What one half sees along a line, in lengths along the axis.
struct View {
  double inner = 1e300;   // to the nearest layer on the other half's side
  double behind = 1e300;  // to the nearest layer behind its back
  double cut = 1e300;     // how deep below its back a layer cuts it
};

/// @param layer  places counted from the half's middle, the other half ahead
void look_behind(const Layer& layer, double half_depth, View& view) {
  if (layer.middle() > 0) {
    view.inner = std::min(view.inner, distance_to(layer, -half_depth, half_depth));
  } else if (layer.to < -half_depth) {
    view.behind = std::min(view.behind, -half_depth - layer.to);
  } else {
    view.cut = std::min(view.cut, layer.to + half_depth);
  }
}

/// @param lines_between  counts the lines on which a layer lies between the halves
Hold judge_line(const Probe& p, std::span<const Layer> layers, std::size_t& lines_between) {
  View a;
  View b;
  int between = 0;
  for (const Layer& l : layers) {
    const bool inside = l.middle() > 0 && l.middle() < p.distance;
    between += inside ? 1 : 0;
    if (inside || l.middle() <= 0) look_behind(l, p.a->half_depth, a);
    if (inside || l.middle() > 0) look_behind({p.distance - l.to, p.distance - l.from}, p.b->half_depth, b);
  }
  lines_between += between > 0 ? 1 : 0;
  // With a single layer about there is nothing else they could sit on: it may run through a half, and the faces of a
  // coarse cloth pass beside a trim where the cloth is round.
  if (between == 0) return layers.size() == 1 ? Hold::Clear : (layers.empty() ? Hold::None : Hold::AsOthers);
  // A half that lies nearer to a layer behind it is sewn to that one: a button of the layer below.
  const double touch = kTouch * p.small;
  if (a.behind < a.inner - touch || b.behind < b.inner - touch) return Hold::None;
  if (between > 1 && p.gap() >= kTightGap * p.small) return p.exact ? Hold::AsOthers : Hold::None;
  const auto rests = [&](const View& v, const Half& h) { return v.behind < touch || v.cut < 0.5 * h.half_depth; };
  if (rests(a, *p.a) || rests(b, *p.b)) return Hold::AsOthers;
  const bool cut = a.cut < 1e300 || b.cut < 1e300;
  const bool reaches_through = p.gap() < 0.02 * p.small;
  return cut || (between > 1 && !reaches_through) ? Hold::AsAlways : Hold::Clear;
}

/// @param between  whether a layer lies between the halves, on most lines
Hold judge(const RoleInput& in, const Probe& probe, std::span<const Crossing> own, std::vector<Layer>& layers,
           bool& between) {
  std::array<std::size_t, 4> votes{};
  std::size_t lines_between = 0;
  for (std::size_t begin = 0; begin < own.size();) {
    std::size_t end = begin + 1;
    while (end < own.size() && own[end].ray == own[begin].ray) ++end;
    merge_layers(in, own.subspan(begin, end - begin), probe.small, layers);
    ++votes[static_cast<std::size_t>(judge_line(probe, layers, lines_between))];
    begin = end;
  }
  const std::size_t all = votes[0] + votes[1] + votes[2] + votes[3];
  between = 2 * lines_between > all;
  std::size_t sum = 0;
  for (std::size_t i = 0; i < 3; ++i)
    if (2 * (sum += votes[i]) >= all && sum > 0) return static_cast<Hold>(i);
  return Hold::None;
}

struct Pair {
  Hold hold = Hold::None;
  bool between = false;  // a layer lies between the halves
  bool exact = false;    // set on one axis as only one piece of work is
  bool plate = false;    // one of them is not round
  double gap = 0;
  Index a = 0, b = 0;
  std::array<double, 5> measures{};  // diameters, distance and depths, the wider half first
};

Pair make_pair(Hold hold, bool between, const Probe& p) {
  const bool turn = p.b->radius > p.a->radius;
  const Half& wide = turn ? *p.b : *p.a;
  const Half& narrow = turn ? *p.a : *p.b;
  return {hold,           between,
          p.exact,        p.a->plate || p.b->plate,
          p.gap(),        p.a->component,
          p.b->component, {2 * wide.radius, 2 * narrow.radius, p.distance, 2 * wide.half_depth, 2 * narrow.half_depth}};
}

/// The same fastening, if perhaps modelled with another number of sides.
bool alike(const Pair& x, const Pair& y) {
  for (std::size_t i = 0; i < x.measures.size(); ++i)
    if (std::abs(x.measures[i] - y.measures[i]) > (i < 2 ? 0.06 : 0.08) * x.measures[0]) return false;
  return true;
}

/// Kinds of fastenings that hold the cloth without doubt somewhere.
std::vector<Pair> clear_kinds(std::span<const Pair> pairs) {
  std::vector<Pair> kinds;
  for (const Pair& p : pairs) {
    if (p.hold != Hold::Clear || kinds.size() >= kMostKinds) continue;
    if (std::none_of(kinds.begin(), kinds.end(), [&](const Pair& k) { return alike(k, p); })) kinds.push_back(p);
  }
  return kinds;
}

/// Parts of each kind among the halves.
std::vector<Index> halves_per_kin(const Families& fam, std::span<const Pair> pairs) {
  std::vector<Index> out(fam.kin_count.size(), 0);
  for (const Pair& p : pairs) {
    ++out[kin_of(fam, p.a)];
    ++out[kin_of(fam, p.b)];
  }
  return out;
}

/// Pairs that hold cloth, of those on one axis.
std::vector<Pair> holding_pairs(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                std::span<const Probe> probes) {
  std::vector<Pair> pairs;
  if (probes.empty()) return pairs;
  const std::vector<Crossing> crossings = crossings_of(in, verdicts, probes);
  std::vector<Index> partners(in.shapes.size(), 0);
  for (const Probe& p : probes) {
    ++partners[p.a->component];
    ++partners[p.b->component];
  }
  std::vector<Layer> layers;
  std::size_t at = 0;
  for (Index i = 0; i < probes.size(); ++i) {
    std::size_t end = at;
    while (end < crossings.size() && crossings[end].probe == i) ++end;
    bool between = false;
    const std::span<const Crossing> own = std::span<const Crossing>(crossings).subspan(at, end - at);
    // A very coarse cloth may pass by far off; beads on a string have neighbours on both sides.
    const bool alone = partners[probes[i].a->component] == 1 && partners[probes[i].b->component] == 1;
    const Hold hold =
        own.empty() && alone && probes[i].exact ? Hold::AsAlways : judge(in, probes[i], own, layers, between);
    at = end;
    if (hold != Hold::None) pairs.push_back(make_pair(hold, between, probes[i]));
  }
  return pairs;
}

/// One partner each, the surest and nearest first; rather the socket across the cloth than the pearl in its ring.
std::vector<Pair> choose_partners(const RoleInput& in, std::vector<Pair> pairs) {
  std::sort(pairs.begin(), pairs.end(), [](const Pair& x, const Pair& y) {
    if (x.hold != y.hold) return x.hold < y.hold;
    if (x.between != y.between) return x.between;
    if (x.gap != y.gap) return x.gap < y.gap;
    return x.a != y.a ? x.a < y.a : x.b < y.b;
  });
  std::vector<Pair> chosen;
  std::vector<std::uint8_t> taken(in.shapes.size(), 0);
  for (const Pair& p : pairs) {
    if (taken[p.a] != 0 || taken[p.b] != 0) continue;
    taken[p.a] = taken[p.b] = 1;
    chosen.push_back(p);
  }
  return chosen;
}

/// Leaves what holds the cloth as surely as its kinds do so elsewhere.
/// @param before  pairs that were found before, whose kinds count as well
std::vector<std::array<Index, 2>> regular_pairs(const RoleInput& in, std::span<const Pair> chosen,
                                                std::span<const std::array<Index, 2>> before) {
  const Families& fam = *in.families;
  const std::vector<Pair> clear = clear_kinds(chosen);
  std::vector<Index> any = halves_per_kin(fam, chosen);
  for (const auto& pair : before)
    for (const Index half : pair) ++any[kin_of(fam, half)];
  std::vector<std::array<Index, 2>> out;
  for (const Pair& p : chosen) {
    const auto mostly = [&](Index c) { return 2 * any[kin_of(fam, c)] >= fam.kin_count[kin_of(fam, c)]; };
    const auto always = [&](Index c) {
      return any[kin_of(fam, c)] >= std::max<Index>(p.exact ? 1 : 2, fam.kin_count[kin_of(fam, c)]);
    };
    const bool elsewhere = std::any_of(clear.begin(), clear.end(), [&](const Pair& k) { return alike(k, p); });
    if (!mostly(p.a) || !mostly(p.b)) continue;
    // A layer that lies against a half (a pocket bag behind a rivet) may as well be what that half is sewn to, but then
    // the two would hardly lie on one axis every time.
    const bool regular = always(p.a) && always(p.b);
    if (p.hold == Hold::AsOthers && !elsewhere && !(regular && p.exact && p.between)) continue;
    if (p.hold == Hold::AsAlways && !elsewhere && !regular) continue;
    out.push_back({p.a, p.b});
  }
  std::sort(out.begin(), out.end());
  return out;
}

/// Those that may have a plate for a partner.
std::vector<Half> few_of_a_kind(const RoleInput& in, std::span<const Half> halves) {
  std::vector<Half> out;
  for (const Half& h : halves)
    if (in.families->kin_count[kin_of(*in.families, h.component)] <= kFewHalves) out.push_back(h);
  return out;
}

}  // namespace

std::vector<std::array<Index, 2>> find_two_sided(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                                 std::span<const Half> halves, std::span<const Half> plates) {
  std::vector<Probe> probes = probes_of(halves);
  std::vector<Half> all;
  if (!plates.empty()) {
    all = few_of_a_kind(in, halves);
    all.insert(all.end(), plates.begin(), plates.end());
    std::ranges::copy_if(probes_of(all), std::back_inserter(probes),
                         [](const Probe& p) { return p.exact && (p.a->plate || p.b->plate); });
  }
  std::vector<Pair> pairs = holding_pairs(in, verdicts, probes);
  // Plates that nothing lies between are a slider's, or lie on one another.
  std::erase_if(pairs, [](const Pair& p) { return p.plate && !p.between; });
  return regular_pairs(in, choose_partners(in, std::move(pairs)), {});
}

std::vector<std::array<Index, 2>> find_riveted_hardware(const RoleInput& in, std::span<const RoleVerdict> verdicts,
                                                        std::vector<Half> halves, std::span<const Link> links,
                                                        std::span<const std::array<Index, 2>> two_sided) {
  std::vector<std::uint8_t> taken(in.shapes.size(), 0);
  for (const auto& pair : two_sided)
    for (const Index half : pair) taken[half] = 1;
  std::erase_if(halves, [&](const Half& h) { return taken[h.component] != 0; });
  if (!seat_caps(in, verdicts, links, halves)) return {};
  std::vector<Probe> probes = probes_of(halves);
  std::erase_if(probes, [](const Probe& p) { return !p.exact || p.a->on_hardware == p.b->on_hardware; });
  return regular_pairs(in, choose_partners(in, holding_pairs(in, verdicts, probes)), two_sided);
}

}  // namespace trimtack
