// SPDX-License-Identifier: MIT
/// Small components whose faces connect their vertices in the same way, as copies do: they are measured side by side.
#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "trimtack/features.hpp"

namespace trimtack {

/// Collects components until there are four that fit. Each is measured as it would be alone, whatever it waits with.
class AlikeShapes {
 public:
  using Alone = Shape (*)(const FaceView&, const ComponentMap&, Index);
  /// @param alone  measures one of those that are not small and in one piece, or not finite
  /// @param out  by component
  AlikeShapes(const FaceView& faces, const ComponentMap& components, Alone alone, std::span<Shape> out)
      : faces_(faces), components_(components), alone_(alone), out_(out) {}

  /// Measures the component, now or later.
  void add(Index component);
  /// Measures all that still wait.
  void finish();

 private:
  static constexpr std::size_t kSide = 4, kKinds = 8;
  struct Group {
    std::array<Index, kSide> components{};
    std::size_t count = 0;
  };
  void measure(Group& group);

  const FaceView& faces_;
  const ComponentMap& components_;
  Alone alone_;
  std::span<Shape> out_;
  std::array<Group, kKinds> groups_{};
  std::size_t next_ = 0;
};

}  // namespace trimtack
