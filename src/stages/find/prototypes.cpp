// SPDX-License-Identifier: MIT
// Invariants pick candidates; a rigid (or rigid and scaled, or mirrored) fit of the vertices confirms them: Kabsch
// 1976, Umeyama 1991 for the scale. Copies that lost their vertex order are aligned through two vertices with rare
// distances from the centroid and confirmed by nearest vertices.
#include "trimtack/prototypes.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <deque>
#include <limits>
#include <optional>

#include <Eigen/Dense>

#include "core/memory.hpp"
#include "stages/find/bodies.hpp"
#include "stages/find/measure_index.hpp"
#include "stages/find/nearest_points.hpp"
#include "stages/find/pulls.hpp"

namespace trimtack {
namespace {

// Of the size. A button 0.5 mm larger but as thick is no scaled one: its face is off by some 0.02 mm in 25.
constexpr double kScaledCopy = 4e-4;
constexpr double kBothRounded =
    1.75;  // steps: a corner of the copy and one of the prototype, each off by half a step in x, y, z
constexpr std::size_t kMostCandidates = 4000;
constexpr int kMostWholeChecks = 6;

struct Fit {
  Mat3 linear;  // rotation times scale times mirror, about the centroids
  Mat3 rotation;
  double scale = 1;
  bool mirrored = false;
  Vec3 shift;  // of the copy's vertex mean against its centroid image
  double residual = std::numeric_limits<double>::infinity();
};

Mat3 mirror_x() { return Mat3{{-1, 0, 0, 0, 1, 0, 0, 0, 1}}; }

Mat3 scaled(const Mat3& m, double s) {
  Mat3 r = m;
  for (double& x : r.m) x *= s;
  return r;
}

/// Best proper or mirrored similarity of paired points, p -> q; scale only when asked for.
Fit fit_pairs(std::span<const Vec3> p, std::span<const Vec3> q, bool mirrored, bool free_scale) {
  Fit fit;
  const double n = static_cast<double>(p.size());
  Vec3 pc;
  Vec3 qc;
  for (std::size_t i = 0; i < p.size(); ++i) {
    pc += p[i];
    qc += q[i];
  }
  pc = (1.0 / n) * pc;
  qc = (1.0 / n) * qc;
  Eigen::Matrix3d h = Eigen::Matrix3d::Zero();
  double variance = 0;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const Vec3 a = p[i] - pc;
    const Vec3 b = q[i] - qc;
    h += Eigen::Vector3d(b.x, b.y, b.z) * Eigen::RowVector3d(a.x, a.y, a.z);
    variance += squared_length(a);
  }
  const Eigen::JacobiSVD<Eigen::Matrix3d> svd(h, Eigen::ComputeFullU | Eigen::ComputeFullV);
  const double det = svd.matrixU().determinant() * svd.matrixV().determinant();
  Eigen::Vector3d sign(1, 1, (det > 0) != mirrored ? 1 : -1);
  const Eigen::Matrix3d r = svd.matrixU() * sign.asDiagonal() * svd.matrixV().transpose();
  fit.mirrored = mirrored;
  if (free_scale && variance > 0) fit.scale = svd.singularValues().dot(sign) / variance;
  Mat3 orthogonal;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) orthogonal(i, j) = r(i, j);
  fit.rotation = mirrored ? orthogonal * mirror_x() : orthogonal;
  fit.linear = scaled(orthogonal, fit.scale);
  fit.shift = qc - fit.linear * pc;
  double worst = 0;
  for (std::size_t i = 0; i < p.size(); ++i)
    worst = std::max(worst, squared_length(fit.linear * p[i] + fit.shift - q[i]));
  fit.residual = std::sqrt(worst);
  return fit;
}

Mat3 frame_of(const Vec3& a, const Vec3& b) {
  const Vec3 u = normalized(a);
  const Vec3 n = normalized(cross(a, b));
  return from_columns(u, cross(n, u), n);
}

/// Two vertices that fix how a body is turned, and the inverse of its moments for small corrections of that.
struct Base {
  std::size_t first = 0, second = 0;
  Mat3 frame;    // from those two
  Mat3 inverse;  // of sum(|p|^2 - p p^T)
  bool usable = false;
};

struct Known {
  TrimBody body;
  Base base;
  std::optional<NearestPoints> nearest;
};

const NearestPoints& nearest_of(Known& prototype) {
  if (!prototype.nearest) prototype.nearest.emplace(prototype.body.vertices);
  return *prototype.nearest;
}

/// Vertex with the fewest others at its distance from the centroid; ties take the farther, then the first.
std::size_t rarest(const std::vector<Vec3>& v, std::span<const double> sorted, double tolerance, double least,
                   const Vec3* other) {
  std::size_t best = v.size();
  std::size_t best_count = std::numeric_limits<std::size_t>::max();
  double best_radius = 0;
  for (std::size_t i = 0; i < v.size(); ++i) {
    const double r = length(v[i]);
    if (r < least) continue;
    if (other != nullptr && length(cross(*other, v[i])) < 0.2 * length(*other) * r) continue;
    const auto count = static_cast<std::size_t>(std::upper_bound(sorted.begin(), sorted.end(), r + tolerance) -
                                                std::lower_bound(sorted.begin(), sorted.end(), r - tolerance));
    if (count < best_count || (count == best_count && r > best_radius + tolerance)) {
      best = i;
      best_count = count;
      best_radius = r;
    }
  }
  return best;
}

/// Alignment without vertex order: base vertices a, b of the copy against all pairs of the prototype that fit.
Fit search(Known& prototype, const TrimBody& copy, double scale, bool mirrored, double tolerance) {
  Fit best;
  const std::vector<Vec3>& p = prototype.body.vertices;
  std::vector<Vec3> q = copy.vertices;
  for (Vec3& v : q) {
    v = (1.0 / scale) * v;
    if (mirrored) v.x = -v.x;
  }
  std::vector<double> sorted(q.size());
  for (std::size_t i = 0; i < q.size(); ++i) sorted[i] = length(q[i]);
  std::sort(sorted.begin(), sorted.end());
  const double slack = 2 * tolerance / scale;
  const std::size_t a = rarest(q, sorted, slack, 0.3 * prototype.body.radius, nullptr);
  if (a == q.size()) return best;
  const std::size_t b = rarest(q, sorted, slack, 0.2 * prototype.body.radius, &q[a]);
  if (b == q.size()) return best;
  const double ra = length(q[a]);
  const double rb = length(q[b]);
  const double ab = length(q[a] - q[b]);
  std::vector<std::size_t> as;
  std::vector<std::size_t> bs;
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double r = length(p[i]);
    if (std::abs(r - ra) <= slack) as.push_back(i);
    if (std::abs(r - rb) <= slack) bs.push_back(i);
  }
  const NearestPoints& nearest = nearest_of(prototype);
  const Mat3 from = frame_of(q[a], q[b]);
  struct Candidate {
    double angle;
    std::size_t i, j;
    Mat3 rotation;
  };
  std::vector<Candidate> candidates;
  for (const std::size_t i : as)
    for (const std::size_t j : bs) {
      if (candidates.size() >= kMostCandidates) break;
      if (i == j || std::abs(length(p[i] - p[j]) - ab) > 2 * slack) continue;
      const Mat3 rotation = frame_of(p[i], p[j]) * transposed(from);
      candidates.push_back({rotation_angle_deg(rotation, Mat3{}), i, j, rotation});
    }
  // Symmetric trims fit in several ways: the smallest turn wins, so that like copies are placed alike.
  std::sort(candidates.begin(), candidates.end(), [](const Candidate& x, const Candidate& y) {
    if (x.angle != y.angle) return x.angle < y.angle;
    return x.i != y.i ? x.i < y.i : x.j < y.j;
  });
  const double allowed = 1.5 * tolerance / scale;
  const auto fits = [&](const Mat3& rotation, std::size_t k, std::size_t* partner) {
    NearPoint found;
    nearest.find(rotation * q[k], {&found, 1});
    if (partner != nullptr) *partner = found.index;
    return found.squared_distance <= allowed * allowed;
  };
  std::vector<Vec3> paired(q.size());
  int whole = 0;
  const std::size_t stride = std::max<std::size_t>(1, q.size() / 64);
  for (const Candidate& c : candidates) {
    bool good = true;
    for (std::size_t k = 0; k < q.size() && good; k += stride) good = fits(c.rotation, k, nullptr);
    if (good && ++whole > kMostWholeChecks) break;
    std::size_t partner = 0;
    for (std::size_t k = 0; k < q.size() && good; ++k) {
      good = fits(c.rotation, k, &partner);
      paired[k] = p[partner];
    }
    if (!good) continue;
    const Fit fit = fit_pairs(paired, copy.vertices, mirrored, scale != 1);
    if (fit.residual <= tolerance) return fit;
  }
  return best;
}

Base base_of(const std::vector<Vec3>& p) {
  Base base;
  double most = 0;
  for (std::size_t i = 0; i < p.size(); ++i)
    if (squared_length(p[i]) > most) {
      most = squared_length(p[i]);
      base.first = i;
    }
  double widest = 0;
  Eigen::Matrix3d moments = Eigen::Matrix3d::Zero();
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double wide = squared_length(cross(p[base.first], p[i]));
    if (wide > widest) {
      widest = wide;
      base.second = i;
    }
    const Eigen::Vector3d v(p[i].x, p[i].y, p[i].z);
    moments += v.squaredNorm() * Eigen::Matrix3d::Identity() - v * v.transpose();
  }
  base.usable = widest > 1e-4 * most * most;
  if (!base.usable) return base;
  base.frame = frame_of(p[base.first], p[base.second]);
  const Eigen::Matrix3d inverse = moments.inverse();
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) base.inverse(i, j) = inverse(i, j);
  return base;
}

/// The best rotation of p onto q (both about their means) from a good guess: Gauss-Newton, whose fixed point is that of
/// the decomposition in fit_pairs. Infinite residual when the vertices do not come in the same order.
Fit fit_in_order(const Base& base, std::span<const Vec3> p, std::span<const Vec3> q, double tolerance) {
  Fit fit;
  if (!base.usable) return fit;
  Mat3 r = frame_of(q[base.first], q[base.second]) * transposed(base.frame);
  for (int round = 0; round < 3; ++round) {
    Vec3 torque;
    const bool last = round == 2;
    const double far = round == 0 ? 8 * tolerance : 2 * tolerance;
    const double worst = pull_at(r, p, q, far, last ? nullptr : &torque);
    if (worst > far * far) return fit;
    if (last) {
      fit.residual = std::sqrt(worst);
      break;
    }
    const Vec3 turn = r * (base.inverse * (transposed(r) * torque));
    const double angle = length(turn);
    if (angle > 0) {
      const double s = std::sin(0.5 * angle) / angle;
      r = to_matrix({s * turn.x, s * turn.y, s * turn.z, std::cos(0.5 * angle)}) * r;
    }
  }
  fit.rotation = fit.linear = r;
  return fit;
}

/// Faces of different corners, each counted once.
Index count_whole_faces(const RoleInput& in, std::span<const Index> parts) {
  std::vector<std::uint64_t> keys;
  std::vector<Index> corners;
  const SourceMesh& mesh = *in.mesh;
  for (const Index c : parts)
    for (const Index f : in.components->faces_of(c)) {
      corners.clear();
      for (const Index v : mesh.face(f)) corners.push_back(in.welded->of(v));
      std::sort(corners.begin(), corners.end());
      corners.erase(std::unique(corners.begin(), corners.end()), corners.end());
      if (corners.size() < 3) continue;
      std::uint64_t key = 0;
      for (const Index v : corners) key = (key ^ v) * 0x9e3779b97f4a7c15U + (key >> 29U);
      keys.push_back(key);
    }
  std::sort(keys.begin(), keys.end());
  return static_cast<Index>(std::unique(keys.begin(), keys.end()) - keys.begin());
}

bool agree(double x, double y, double parts) { return std::abs(x - y) <= parts + 0.02 * std::max(x, y); }

/// Doubled and collapsed faces count only when nothing else would part the two.
bool faces_agree(const RoleInput& in, const TrimGroups& groups, TrimBody& a, TrimBody& b) {
  if (agree(a.faces, b.faces, a.parts)) return true;
  for (TrimBody* body : {&a, &b})
    if (body->whole_faces == kNone) body->whole_faces = count_whole_faces(in, groups.components_of(body->trim));
  return agree(a.whole_faces, b.whole_faces, a.parts);
}

bool similar(const TrimBody& a, const TrimBody& b, double scale, double tolerance) {
  return std::abs(b.rms - scale * a.rms) <= tolerance && std::abs(b.mean - scale * a.mean) <= tolerance &&
         std::abs(b.radius - scale * a.radius) <= 2 * tolerance;
}

Fit align(Known& prototype, const TrimBody& copy, double scale, double tolerance, bool may_search) {
  const bool free_scale = scale != 1;
  const auto& p = prototype.body.vertices;
  if (!free_scale) {
    const Fit fit = fit_in_order(prototype.base, p, copy.vertices, tolerance);
    if (fit.residual <= tolerance) return fit;
  }
  for (const bool mirrored : {false, true}) {
    const Fit fit = fit_pairs(p, copy.vertices, mirrored, free_scale);
    if (fit.residual <= tolerance) return fit;
  }
  if (may_search)
    for (const bool mirrored : {false, true}) {
      const Fit fit = search(prototype, copy, scale, mirrored, tolerance);
      if (fit.residual <= tolerance) return fit;
    }
  return {};
}

constexpr std::size_t kMostTries = 24;

/// Lays trims with equal counts over each other.
class Placing {
 public:
  /// Writes their places in `map`, and whose copy each is.
  Placing(const RoleInput& in, const TrimGroups& groups, double tolerance, double rounding, PrototypeMap& map,
          std::vector<Index>& prototype_trim)
      : in_(in),
        groups_(groups),
        tolerance_(tolerance),
        rounding_(rounding),
        map_(map),
        prototype_trim_(prototype_trim) {}

  /// Most are plain copies of what is known after a few. These go side by side in ever longer waves, the others of each
  /// wave one after the other.
  void place(std::span<const Index> alike, const Executor& executor) {
    constexpr std::size_t kTrimsPerRange = 64;
    Work work;
    for (std::size_t begin = 0, count = 1; begin < alike.size(); begin += count, count *= 2) {
      count = std::min(count, alike.size() - begin);
      const std::span<const Index> wave = alike.subspan(begin, count);
      if (!found_.empty())
        for_ranges(executor, count, kTrimsPerRange, [&](std::size_t first, std::size_t end) {
          Work own;
          for (std::size_t k = first; k < end; ++k) {
            if (k + 1 < end) fetch_body(in_, groups_.components_of(wave[k + 1]));
            place_copy(wave[k], own);
          }
        });
      for (const Index t : wave)
        if (prototype_trim_[t] == kNone) place_any(t, work);
    }
  }

 private:
  struct Tolerances {
    double exact, when_scaled;
  };
  struct Work {
    TrimBody body;
    std::vector<Index> like;  // numbers of known ones that measure about the same
  };
  Tolerances tolerances(const TrimBody& body) const {
    return {std::max(tolerance_ * 2 * body.radius, kBothRounded * rounding_),
            std::max(std::min(tolerance_, kScaledCopy) * 2 * body.radius, 0.5 * kBothRounded * rounding_)};
  }

  /// A size beyond numbers would allow any residual.
  static bool may_be_copy(const TrimBody& body) {
    return body.vertices.size() >= 3 && body.radius > 0 && std::isfinite(body.radius);
  }

  void fill(Index t, TrimBody& body) const {
    fill_body(in_, groups_.components_of(t), body);
    body.trim = t;
  }

  void set(const TrimBody& body, const Known& prototype, const Fit& fit) {
    const Index t = body.trim;
    prototype_trim_[t] = prototype.body.trim;
    map_.mirrored[t] = fit.mirrored ? 1 : 0;
    map_.scale[t] = fit.scale;
    map_.residual[t] = fit.residual;
    map_.placement[t].rotation = fit.rotation;
    map_.placement[t].translation = body.centre + fit.shift - fit.linear * prototype.body.centre;
  }

  /// Only if it clearly is a copy of the first known one that is similar, its vertices in order.
  void place_copy(Index t, Work& work) {
    TrimBody& body = work.body;
    fill(t, body);
    if (!may_be_copy(body)) return;
    const double exact = tolerances(body).exact;
    find_like(body, false, exact, work.like);
    const auto like = std::find_if(work.like.begin(), work.like.end(),
                                   [&](Index k) { return similar(found_[k].body, body, 1.0, exact); });
    if (like == work.like.end()) return;
    const Known& known = found_[*like];
    if (!agree(known.body.faces, body.faces, body.parts)) return;
    const Fit fit = fit_in_order(known.base, known.body.vertices, body.vertices, exact);
    if (fit.residual <= exact) set(body, known, fit);
  }

  void place_any(Index t, Work& work) {
    TrimBody& body = work.body;
    fill(t, body);
    if (may_be_copy(body))
      for (const bool scaling : {false, true})
        if (place_as_copy(work, scaling)) return;
    prototype_trim_[t] = t;
    Known& fresh = found_.emplace_back();
    fresh.body = body;
    fresh.base = base_of(body.vertices);
    by_size_.add(body.rms, body.mean / body.rms);
    by_form_.add(body.mean / body.rms, body.radius / body.rms);
  }

  /// Numbers of the known bodies that may be similar(), ascending.
  void find_like(const TrimBody& body, bool scaling, double allowed, std::vector<Index>& like) const {
    if (scaling) {
      by_form_.find(body.mean / body.rms, allowed / body.rms, body.radius / body.rms, 2 * allowed / body.rms, like);
    } else {
      // The mean is no larger than the root mean square, so their ratio is off by no more than both are.
      by_size_.find(body.rms, allowed, body.mean / body.rms, 2 * allowed / body.rms, like);
    }
  }

  bool place_as_copy(Work& work, bool scaling) {
    TrimBody& body = work.body;
    const Tolerances own = tolerances(body);
    const double allowed = scaling ? own.when_scaled : own.exact;
    find_like(body, scaling, allowed, work.like);
    std::size_t tries = 0;
    for (const Index k : work.like) {
      Known& known = found_[k];
      if (tries == kMostTries) break;
      const double ratio = body.rms / std::max(known.body.rms, 1e-300);
      if (scaling && (ratio < 0.2 || ratio > 5)) continue;
      const double scale = scaling ? ratio : 1.0;
      if (!similar(known.body, body, scale, allowed) || !faces_agree(in_, groups_, known.body, body)) continue;
      ++tries;
      const Fit fit = align(known, body, scale, allowed, true);
      if (!(fit.residual <= allowed)) continue;
      set(body, known, fit);
      return true;
    }
    return false;
  }

  const RoleInput& in_;
  const TrimGroups& groups_;
  double tolerance_, rounding_;
  PrototypeMap& map_;
  std::vector<Index>& prototype_trim_;
  std::deque<Known> found_;         // stays in place: the searches point into it
  MeasureIndex by_size_, by_form_;  // of those: as they are, and where the scale is free
};

}  // namespace

double decimal_step(std::span<const Vec3> positions) {
  const std::size_t stride = std::max<std::size_t>(1, positions.size() / 500);
  double step = 1;
  for (int digits = 0; digits <= 7; ++digits, step /= 10) {
    const double scale = std::pow(10.0, digits);
    bool on_grid = true;
    for (std::size_t i = 0; i < positions.size() && on_grid; i += stride)
      for (int k = 0; k < 3 && on_grid; ++k) {
        const double x = positions[i][k] * scale;
        on_grid = std::abs(x - std::round(x)) <= 1e-9 * std::max(1.0, std::abs(x));
      }
    if (on_grid) return step;
  }
  return 0;
}

PrototypeMap find_prototypes(const RoleInput& in, const TrimGroups& groups, double tolerance,
                             const Executor& executor) {
  const Index n = groups.count();
  PrototypeMap map;
  map.of_trim = filled_large<Index>(n, kNone);
  map.mirrored.assign(n, 0);
  map.scale = filled_large<double>(n, 1.0);
  map.placement = filled_large<Pose>(n, {});
  map.residual = filled_large<double>(n, 0.0);
  const double rounding = decimal_step(in.mesh->positions);
  std::vector<std::uint64_t> counts = filled_large<std::uint64_t>(n, 0);  // of vertices above that of parts
  for (Index t = 0; t < n; ++t) {
    const auto own = groups.components_of(t);
    Index vertices = 0;
    for (const Index c : own) vertices += in.shapes[c].vertex_count;
    counts[t] = std::uint64_t{vertices} << 32U | own.size();
  }
  // Trims by counts, so that only like ones meet.
  std::vector<Index> order = filled_large<Index>(n, 0);
  for (Index t = 0; t < n; ++t) order[t] = t;
  std::sort(order.begin(), order.end(),
            [&](Index a, Index b) { return counts[a] != counts[b] ? counts[a] < counts[b] : a < b; });
  std::vector<std::size_t> begins;
  for (std::size_t i = 0; i < order.size(); ++i)
    if (i == 0 || counts[order[i]] != counts[order[i - 1]]) begins.push_back(i);
  begins.push_back(order.size());
  std::vector<Index> prototype_trim(n, kNone);
  for_ranges(executor, begins.size() - 1, 1, [&](std::size_t begin, std::size_t end) {
    for (std::size_t k = begin; k < end; ++k)
      Placing(in, groups, tolerance, rounding, map, prototype_trim)
          .place(std::span<const Index>(order).subspan(begins[k], begins[k + 1] - begins[k]), executor);
  });
  std::vector<Index> number(n, kNone);
  for (Index t = 0; t < n; ++t) {
    Index& id = number[prototype_trim[t]];
    if (id == kNone) {
      id = static_cast<Index>(map.first_trim.size());
      map.first_trim.push_back(prototype_trim[t]);
    }
    map.of_trim[t] = id;
  }
  return map;
}

}  // namespace trimtack
