// SPDX-License-Identifier: MIT
#include "stages/pulls.hpp"

namespace trimtack {
namespace {

[[gnu::always_inline]] inline void measure_all(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q,
                                               Pulls& out) {
  for (std::size_t i = 0; i < p.size(); ++i) {
    const Vec3 a = r * p[i];
    const Vec3 pull = cross(a, q[i]);
    out.x[i] = pull.x, out.y[i] = pull.y, out.z[i] = pull.z;
    out.off[i] = squared_length(q[i] - a);
  }
}

void measure_baseline(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, Pulls& out) {
  measure_all(r, p, q, out);
}

#if defined(__x86_64__) && defined(__GNUC__)
/// Four lanes to a register; no fused operations, so the same bits.
__attribute__((target("avx2"))) void measure_wide(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q,
                                                  Pulls& out) {
  measure_all(r, p, q, out);
}

auto measure_here() { return __builtin_cpu_supports("avx2") ? &measure_wide : &measure_baseline; }
#else
auto measure_here() { return &measure_baseline; }
#endif

}  // namespace

void measure_pulls(const Mat3& r, std::span<const Vec3> p, std::span<const Vec3> q, Pulls& out) {
  static const auto best = measure_here();
  best(r, p, q, out);
}

}  // namespace trimtack
