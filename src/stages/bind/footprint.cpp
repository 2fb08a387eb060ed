// SPDX-License-Identifier: MIT
#include "trimtack/footprint.hpp"

#include "core/scratch_pool.hpp"
#include "stages/bind/cloth_topology.hpp"
#include "stages/bind/layer.hpp"
#include "stages/bind/samples.hpp"

namespace trimtack {

Footprints find_footprints(const ClothIndex& cloth, const TrimShapes& trims, const BindTable& table,
                           const Executor& executor) {
  const ClothTopology topology = build_topology(cloth.cloth(), executor);
  const double mm = table.unit.mm_per_unit > 0 ? table.unit.mm_per_unit : 1;
  const std::size_t count = trims.id.size();
  constexpr std::size_t kGrain = 256;
  std::vector<std::vector<FootprintPoint>> points((count + kGrain - 1) / kGrain);
  std::vector<Index> sizes(count, 0);
  struct Scratch {
    ShapeSampler sampler;
    LayerFinder finder;
  };
  const SharedShapes shared(trims);
  ScratchPool<Scratch> pool;
  for_ranges(executor, count, kGrain, [&](std::size_t begin, std::size_t end) {
    pool.with(
        [&] {
          return std::make_unique<Scratch>(Scratch{{}, LayerFinder(cloth, topology, mm)});
        },
        [&](Scratch& scratch) {
          for (std::size_t t = begin; t < end; ++t) {
            const Binding& binding = table.bindings[t];
            if (binding.anchor_face == kNone) continue;
            const TrimSampler& shape = scratch.sampler.sample(shared, trims, static_cast<Index>(t), mm);
            const bool one_sheet = keeps_to_one_sheet(trims, t);
            const Standing& standing = scratch.finder.find(shape, {kNone, binding.anchor_face, one_sheet});
            sizes[t] = static_cast<Index>(standing.footprint.size());
            auto& out = points[begin / kGrain];
            out.insert(out.end(), standing.footprint.begin(), standing.footprint.end());
          }
        });
  });
  Footprints out;
  for (const Index n : sizes) out.offsets.push_back(out.offsets.back() + n);
  for (const auto& part : points) out.points.insert(out.points.end(), part.begin(), part.end());
  return out;
}

}  // namespace trimtack
