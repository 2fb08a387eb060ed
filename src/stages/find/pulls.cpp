// SPDX-License-Identifier: MIT
#include "stages/find/pulls.hpp"

#include "stages/find/lanes.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kBlock = 16;  // points after which those too far off are noticed

template <class L>
TRIMTACK_INLINE Lanes3<L> turned(const Mat3& r, const Lanes3<L>& p) {
  const auto row = [&](int i) TRIMTACK_INLINED {
    return all_lanes<L>(r(i, 0)) * p.x + all_lanes<L>(r(i, 1)) * p.y + all_lanes<L>(r(i, 2)) * p.z;
  };
  return {row(0), row(1), row(2)};
}

template <class L>
TRIMTACK_INLINE double pull_all(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, double far,
                                Vec3* torque) {
  L sum{};
  if (torque != nullptr) sum = load<L>(*torque);
  L worst{};
  const std::size_t n = p.size();
  for (std::size_t i = 0; i < n; i += 4) {
    const auto four = [&](std::span<const Vec3> points) TRIMTACK_INLINED {
      const auto at = [&](std::size_t k) TRIMTACK_INLINED { return i + k < n ? load<L>(points[i + k]) : L{}; };
      return side_by_side(at(0), at(1), at(2), at(3));
    };
    const Lanes3<L> to = four(q);
    const Lanes3<L> a = turned(r, four(p));
    const Lanes3<L> off = to - a;
    worst = most(worst, dot(off, off));
    if (torque != nullptr) {
      const Lanes3<L> pull = cross(a, to);
      add_in_order(sum, pull.x, pull.y, pull.z, L{});
    }
    if (i % kBlock == 0 && most_of(worst) > far * far) break;
  }
  if (torque != nullptr) *torque = first_three(sum);
  return most_of(worst);
}

double pull_baseline(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, double far, Vec3* torque) {
  return pull_all<LanePair>(r, p, q, far, torque);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) double pull_wide(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q,
                                                 double far, Vec3* torque) {
  return pull_all<WideLanes>(r, p, q, far, torque);
}

auto pull_here() { return __builtin_cpu_supports("avx2") ? &pull_wide : &pull_baseline; }
#else
auto pull_here() { return &pull_baseline; }
#endif

}  // namespace

double pull_at(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, double far, Vec3* torque) {
  static const auto best = pull_here();
  return best(r, p, q, far, torque);
}

}  // namespace trimtack
