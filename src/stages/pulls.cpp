// SPDX-License-Identifier: MIT
#include "stages/pulls.hpp"

#include "stages/lanes.hpp"

namespace trimtack {
namespace {

constexpr std::size_t kBlock = 16;  // points after which those too far off are noticed

TRIMTACK_INLINE Lanes all(double x) { return Lanes{x, x, x, x}; }
TRIMTACK_INLINE Lanes3 turned(const Mat3& r, const Lanes3& p) {
  return {all(r(0, 0)) * p.x + all(r(0, 1)) * p.y + all(r(0, 2)) * p.z,
          all(r(1, 0)) * p.x + all(r(1, 1)) * p.y + all(r(1, 2)) * p.z,
          all(r(2, 0)) * p.x + all(r(2, 1)) * p.y + all(r(2, 2)) * p.z};
}

TRIMTACK_INLINE double pull_all(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, double far,
                                Vec3* torque) {
  Lanes sum{};
  if (torque != nullptr) sum = load(*torque);
  Lanes worst{};
  const std::size_t n = p.size();
  for (std::size_t i = 0; i < n; i += 4) {
    const auto four = [&](std::span<const Vec3> points) TRIMTACK_INLINED {
      const auto at = [&](std::size_t k) TRIMTACK_INLINED { return i + k < n ? load(points[i + k]) : Lanes{}; };
      return side_by_side(at(0), at(1), at(2), at(3));
    };
    const Lanes3 to = four(q);
    const Lanes3 a = turned(r, four(p));
    const Lanes3 off = to - a;
    worst = most(worst, dot(off, off));
    if (torque != nullptr) {
      const Lanes3 pull = cross(a, to);
      add_in_order(sum, pull.x, pull.y, pull.z, Lanes{});
    }
    if (i % kBlock == 0 && most_of(worst) > far * far) break;
  }
  if (torque != nullptr) *torque = first_three(sum);
  return most_of(worst);
}

double pull_baseline(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, double far, Vec3* torque) {
  return pull_all(r, p, q, far, torque);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) double pull_wide(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q,
                                                 double far, Vec3* torque) {
  return pull_all(r, p, q, far, torque);
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
