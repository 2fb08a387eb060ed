// SPDX-License-Identifier: MIT
/// Which of many boxes meet: sweep along the axis of widest spread, in strips across the next one.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <utility>
#include <vector>

#include "core/memory.hpp"
#include "trimtack/types.hpp"

namespace trimtack {

/// A box in the order of the sweep, so that those that meet lie near each other.
struct SweptBox {
  Box box;
  std::array<Index, 2> strips{};  // the first and the last that it lies in
  Index item = 0;
};

/// A box that the sweep has met and may meet others of.
struct OpenBox {
  double until = 0;  // along the axis of widest spread
  Index first_strip = 0;
  Index at = 0;
};

/// The two axes along which the boxes spread widest, the widest first.
inline std::array<int, 2> axes_of_spread(const Box& all) {
  std::array<int, 3> axes{0, 1, 2};
  std::stable_sort(axes.begin(), axes.end(),
                   [&](int a, int b) { return all.max[a] - all.min[a] > all.max[b] - all.min[b]; });
  return {axes[0], axes[1]};
}

/// The first and the last strip that each box lies in. Strips are about twice as wide as what lies in them.
inline std::vector<std::array<Index, 2>> strips_of(std::span<const Box> boxes, const Box& all, int across) {
  constexpr double kMostStrips = 1024;
  double widths = 0;
  for (const Box& box : boxes) widths += box.max[across] - box.min[across];
  const double low = all.min[across];
  const double width = std::max(2 * widths / static_cast<double>(boxes.size()), (all.max[across] - low) / kMostStrips);
  const auto strip = [&](double x) {
    return width > 0 && std::isfinite(width) ? static_cast<Index>(std::clamp((x - low) / width, 0.0, kMostStrips)) : 0;
  };
  std::vector<std::array<Index, 2>> strips;
  reserve_large(strips, boxes.size());
  for (const Box& box : boxes) strips.push_back({strip(box.min[across]), strip(box.max[across])});
  return strips;
}

inline void grow(Box& box, const Vec3& p) {
  box.min = {std::min(box.min.x, p.x), std::min(box.min.y, p.y), std::min(box.min.z, p.z)};
  box.max = {std::max(box.max.x, p.x), std::max(box.max.y, p.y), std::max(box.max.z, p.z)};
}

/// All six are compared, for which no branch can be foreseen.
inline bool boxes_meet(const Box& p, const Box& q) {
  return (static_cast<int>(p.min.x <= q.max.x) & static_cast<int>(q.min.x <= p.max.x) &
          static_cast<int>(p.min.y <= q.max.y) & static_cast<int>(q.min.y <= p.max.y) &
          static_cast<int>(p.min.z <= q.max.z) & static_cast<int>(q.min.z <= p.max.z)) != 0;
}

/// Boxes of one camp do not look at each other, but at all others; those of camp 0 look at each other, too.
inline constexpr std::size_t kCamps = 3;

/// Calls meet(i, k) once for each two boxes that meet and look at each other.
/// @param camps  empty, or one below kCamps for each box
/// Cost: O(n log n) where boxes are of similar size and few lie over each other.
template <class Meet>
void sweep_boxes(std::span<const Box> boxes, std::span<const std::uint8_t> camps, Meet&& meet) {
  if (boxes.empty()) return;
  Box all = boxes.front();
  for (const Box& box : boxes)
    for (int k = 0; k < 3; ++k) {
      all.min[k] = std::min(all.min[k], box.min[k]);
      all.max[k] = std::max(all.max[k], box.max[k]);
    }
  const auto [along, across] = axes_of_spread(all);
  const std::vector<std::array<Index, 2>> strips = strips_of(boxes, all, across);
  std::vector<std::pair<double, Index>> order;
  reserve_large(order, boxes.size());
  for (Index i = 0; i < boxes.size(); ++i) order.emplace_back(boxes[i].min[along], i);
  std::sort(order.begin(), order.end());
  std::vector<SweptBox> swept;
  reserve_large(swept, boxes.size());
  Index last_strip = 0;
  for (const auto& [from, i] : order) {
    swept.push_back({boxes[i], strips[i], i});
    last_strip = std::max(last_strip, strips[i][1]);
  }
  std::array<std::vector<std::vector<OpenBox>>, kCamps> open;
  for (auto& camp : open) camp.resize(last_strip + std::size_t{1});
  for (Index i = 0; i < swept.size(); ++i) {
    const SweptBox& own = swept[i];
    const double from = own.box.min[along];
    const std::size_t own_camp = camps.empty() ? 0 : camps[own.item];
    for (Index at = own.strips[0]; at <= own.strips[1]; ++at) {
      for (std::size_t camp = 0; camp < kCamps; ++camp) {
        if (camp == own_camp && camp != 0) continue;
        std::vector<OpenBox>& others = open[camp][at];
        std::size_t kept = 0;
        for (const OpenBox& other : others) {
          if (other.until < from) continue;
          // A pair meets in the first strip that both lie in.
          if (at == std::max(other.first_strip, own.strips[0]) && boxes_meet(swept[other.at].box, own.box))
            meet(swept[other.at].item, own.item);
          others[kept++] = other;
        }
        others.resize(kept);
      }
      open[own_camp][at].push_back({own.box.max[along], own.strips[0], i});
    }
  }
}

}  // namespace trimtack
