// SPDX-License-Identifier: MIT
#include "fuzz/byte_garment.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace trimtack::fuzz {
namespace {

constexpr std::size_t kMostFaces = 500;
constexpr std::size_t kMostSteps = 40;

class Builder {
 public:
  explicit Builder(ByteSource& in) : in_(in) {}

  SourceMesh run() {
    mesh_.file = "fuzz.obj";
    sheet();
    for (std::size_t step = 0; step < kMostSteps && !in_.empty() && mesh_.face_count() < kMostFaces; ++step) one_step();
    finish();
    return std::move(mesh_);
  }

 private:
  Index vertex_count() const { return static_cast<Index>(mesh_.positions.size()); }
  Index vertex(const Vec3& p) {
    mesh_.positions.push_back(p);
    return vertex_count() - 1;
  }
  void face(std::initializer_list<Index> corners) {
    mesh_.corner_position.insert(mesh_.corner_position.end(), corners);
    mesh_.face_offsets.push_back(static_cast<Index>(mesh_.corner_position.size()));
  }
  Vec3 place() { return {in_.byte() / 2.0 - 60, in_.byte() / 2.0 - 60, in_.byte() / 16.0 - 4}; }
  double size() { return 0.1 * (1 + in_.byte()); }

  /// Cells of 1 to 16 units, flat or bent, of quads or triangles.
  void sheet() {
    const Index nx = 1 + in_.below(12), ny = 1 + in_.below(12);
    const double step = 1 + in_.byte() % 16, bend = in_.byte() / 2000.0;
    const Vec3 at = place();
    const bool triangles = in_.byte() % 2 != 0;
    const Index first = vertex_count();
    for (Index j = 0; j <= ny; ++j) {
      for (Index i = 0; i <= nx; ++i) {
        const double x = i * step, y = j * step;
        vertex(at + Vec3{x, y, bend * x * x});
      }
    }
    for (Index j = 0; j < ny; ++j) {
      for (Index i = 0; i < nx; ++i) {
        const Index a = first + j * (nx + 1) + i, b = a + 1, c = b + nx + 1, d = c - 1;
        if (triangles) {
          face({a, b, c});
          face({a, c, d});
        } else {
          face({a, b, c, d});
        }
      }
    }
  }

  /// A closed prism of 3 to 14 sides: a button, a rivet, a bead, or a thread when it is thin.
  void prism() {
    const Index sides = 3 + in_.below(12);
    const double radius = size(), height = size();
    const Vec3 at = place();
    const bool lies = in_.byte() % 4 == 0;
    const Index first = vertex_count();
    for (int level = 0; level < 2; ++level) {
      for (Index i = 0; i < sides; ++i) {
        const double angle = 2 * std::numbers::pi * i / sides;
        const double x = radius * std::cos(angle), y = radius * std::sin(angle), z = level * height;
        vertex(at + (lies ? Vec3{z, x, y} : Vec3{x, y, z}));
      }
    }
    std::vector<Index> low, high;
    for (Index i = 0; i < sides; ++i) {
      const Index a = first + i, b = first + (i + 1) % sides;
      face({a, b, b + sides, a + sides});
      low.insert(low.begin(), a);
      high.push_back(a + sides);
    }
    for (const std::vector<Index>& cap : {low, high}) {
      mesh_.corner_position.insert(mesh_.corner_position.end(), cap.begin(), cap.end());
      mesh_.face_offsets.push_back(static_cast<Index>(mesh_.corner_position.size()));
    }
  }

  void box() {
    const Vec3 at = place();
    const Vec3 extent{size(), size(), size()};
    const Index first = vertex_count();
    for (int i = 0; i < 8; ++i) {
      vertex(at + Vec3{(i & 1) != 0 ? extent.x : 0, (i & 2) != 0 ? extent.y : 0, (i & 4) != 0 ? extent.z : 0});
    }
    constexpr std::array<std::array<Index, 4>, 6> kQuads{
        {{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}};
    for (const auto& q : kQuads) face({first + q[0], first + q[1], first + q[2], first + q[3]});
  }

  /// The last `faces` faces again, moved: a row of equal trims.
  void repeat() {
    const Index faces = std::min<Index>(1 + in_.below(30), mesh_.face_count());
    const Vec3 by{in_.byte() / 4.0 - 30, in_.byte() / 4.0 - 30, in_.byte() / 64.0};
    const bool mirrored = in_.byte() % 4 == 0, shared = in_.byte() % 16 == 0;
    const Index corner = mesh_.face_offsets[mesh_.face_count() - faces];
    std::vector<Index> corners(mesh_.corner_position.begin() + corner, mesh_.corner_position.end());
    std::vector<Index> offsets(mesh_.face_offsets.end() - faces, mesh_.face_offsets.end());
    if (!shared) {
      const Index low = *std::min_element(corners.begin(), corners.end());
      const Index high = *std::max_element(corners.begin(), corners.end());
      const Index first = vertex_count();
      for (Index v = low; v <= high; ++v) {
        const Vec3 p = mesh_.positions[v];
        vertex(Vec3{mirrored ? -p.x : p.x, p.y, p.z} + by);
      }
      for (Index& v : corners) v = v - low + first;
    }
    const Index shift = static_cast<Index>(mesh_.corner_position.size()) - corner;
    mesh_.corner_position.insert(mesh_.corner_position.end(), corners.begin(), corners.end());
    for (const Index end : offsets) mesh_.face_offsets.push_back(end + shift);
  }

  void any_face() {
    const Index count = 3 + in_.below(4);
    for (Index k = 0; k < count; ++k)
      mesh_.corner_position.push_back(in_.byte() * 256U % vertex_count() + in_.below(2));
    for (Index& v : mesh_.corner_position) v = std::min(v, vertex_count() - 1);
    mesh_.face_offsets.push_back(static_cast<Index>(mesh_.corner_position.size()));
  }

  /// Damage: one vertex put on another, or anywhere; a corner exchanged; a name; a loose element.
  void damage() {
    const Index a = (in_.byte() * 256U + in_.byte()) % vertex_count(), b = in_.byte() % vertex_count();
    switch (in_.byte() % 6) {
      case 0:
        mesh_.positions[a] = mesh_.positions[b];
        break;
      case 1: {
        Vec3 p{in_.number(), in_.number(), in_.number()};
        for (int i = 0; i < 3; ++i) p[i] = std::isfinite(p[i]) ? p[i] : 0;
        mesh_.positions[a] = p;
        break;
      }
      case 2:
        mesh_.corner_position[in_.byte() * 256U % mesh_.corner_position.size()] = a;
        break;
      case 3: {
        static constexpr const char* kNames[] = {"button", "front panel", "stitches", "Zipper.001", "", "lining"};
        mesh_.objects.emplace_back(kNames[in_.below(6)]);
        mesh_.states.push_back(
            {mesh_.face_count(), {static_cast<Index>(mesh_.objects.size() - 1), kNone, kNone, kNone}});
        break;
      }
      case 4:
        mesh_.loose.push_back({ElementKind::Line, {a, b}, {}, mesh_.face_count(), {}});
        break;
      default:
        mesh_.loose.push_back({ElementKind::Point, {a}, {}, mesh_.face_count(), {}});
    }
  }

  void one_step() {
    switch (in_.byte() % 8) {
      case 0:
        return sheet();
      case 1:
      case 2:
        return prism();
      case 3:
        return box();
      case 4:
      case 5:
        return repeat();
      case 6:
        return any_face();
      default:
        return damage();
    }
  }

  /// The whole in another unit or far away; texture coordinates of a flat pattern at times.
  void finish() {
    const std::uint8_t kind = in_.byte();
    const double scale = kind < 200 ? 1.0 : std::pow(10.0, (kind - 228) / 4.0);
    const double far = in_.byte() < 240 ? 0.0 : 1e7;
    for (Vec3& p : mesh_.positions) p = scale * p + Vec3{far, 0, far};
    if (in_.byte() % 3 == 0) {
      for (const Vec3& p : mesh_.positions) mesh_.texcoords.push_back({p.x, p.y});
      mesh_.corner_texcoord = mesh_.corner_position;
    }
    // States of the same face: the last one counts, as a reader would keep it.
    for (std::size_t i = 0; i + 1 < mesh_.states.size();) {
      if (mesh_.states[i].first_face == mesh_.states[i + 1].first_face) {
        mesh_.states.erase(mesh_.states.begin() + static_cast<std::ptrdiff_t>(i));
      } else {
        ++i;
      }
    }
    for (LooseElement& element : mesh_.loose) {
      for (const StateRun& run : mesh_.states) {
        if (run.first_face <= element.before_face) element.state = run.state;
      }
    }
  }

  ByteSource& in_;
  SourceMesh mesh_;
};

}  // namespace

SourceMesh make_byte_garment(ByteSource& in) { return Builder(in).run(); }

}  // namespace trimtack::fuzz
