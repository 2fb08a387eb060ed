// SPDX-License-Identifier: MIT
// Closest points on a cloth against Embree's point query (single precision) in the same run: coherent queries (in the
// order of the surface) and random ones, one thread each, and the time to build.
//     bench_closest_point [--rounds N] [--queries N]
#include <embree3/rtcore.h>

#include <cmath>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <random>

#include "bench/bench.hpp"
#include "trimtack/cloth_index.hpp"

namespace {

using namespace trimtack;

/// A wavy sheet of about 505,000 triangles, edges 2 to 3 mm, as a fine cloth has.
ClothMesh make_cloth() {
  constexpr Index kColumns = 711, kRows = 356;
  ClothMesh cloth;
  for (Index j = 0; j < kRows; ++j)
    for (Index i = 0; i < kColumns; ++i) {
      const double x = 2.5 * i, y = 2.5 * j;
      cloth.positions.push_back({x, y, 40 * std::sin(x / 90) * std::cos(y / 120) + 6 * std::sin(x / 17)});
    }
  for (Index j = 0; j + 1 < kRows; ++j)
    for (Index i = 0; i + 1 < kColumns; ++i) {
      const Index a = j * kColumns + i, b = a + 1, c = b + kColumns, d = a + kColumns;
      for (const Tri& t : {Tri{a, b, c}, Tri{a, c, d}}) {
        cloth.face_corners.insert(cloth.face_corners.end(), t.begin(), t.end());
        cloth.face_offsets.push_back(static_cast<Index>(cloth.face_corners.size()));
      }
    }
  complete_cloth(cloth);
  return cloth;
}

/// The peer: a scene of one triangle mesh, and the closest point of a triangle in the callback, as its tutorial does
/// it.
struct Peer {
  RTCDevice device = rtcNewDevice("threads=1");
  RTCScene scene = nullptr;
  std::vector<float> vertices;
  std::vector<unsigned> indices;

  explicit Peer(const ClothMesh& cloth) {
    for (const Vec3& p : cloth.positions)
      for (int k = 0; k < 3; ++k) vertices.push_back(static_cast<float>(p[k]));
    for (const Tri& t : cloth.triangles.triangles) indices.insert(indices.end(), t.begin(), t.end());
    vertices.resize(vertices.size() + 4);  // reads past the last vertex are allowed
  }
  ~Peer() {
    if (scene != nullptr) rtcReleaseScene(scene);
    rtcReleaseDevice(device);
  }
  Peer(const Peer&) = delete;
  Peer& operator=(const Peer&) = delete;

  void build() {
    if (scene != nullptr) rtcReleaseScene(scene);
    scene = rtcNewScene(device);
    RTCGeometry geometry = rtcNewGeometry(device, RTC_GEOMETRY_TYPE_TRIANGLE);
    rtcSetSharedGeometryBuffer(geometry, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3, vertices.data(), 0, 12,
                               vertices.size() / 3);
    rtcSetSharedGeometryBuffer(geometry, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3, indices.data(), 0, 12,
                               indices.size() / 3);
    rtcCommitGeometry(geometry);
    rtcAttachGeometry(scene, geometry);
    rtcReleaseGeometry(geometry);
    rtcCommitScene(scene);
  }

  struct Answer {
    const Peer* peer;
    float squared_distance;
    unsigned triangle;
  };

  static bool visit(RTCPointQueryFunctionArguments* arguments) {
    auto& answer = *static_cast<Answer*>(arguments->userPtr);
    const Peer& peer = *answer.peer;
    const unsigned* t = peer.indices.data() + 3 * std::size_t{arguments->primID};
    float offset[3][3];
    const float p[3] = {arguments->query->x, arguments->query->y, arguments->query->z};
    for (int i = 0; i < 3; ++i)
      for (int k = 0; k < 3; ++k)
        offset[i][k] = peer.vertices[3 * std::size_t{t[i]} + static_cast<std::size_t>(k)] - p[k];
    const float squared = squared_distance(offset[0], offset[1], offset[2]);
    if (squared >= answer.squared_distance) return false;
    answer.squared_distance = squared;
    answer.triangle = arguments->primID;
    arguments->query->radius = std::sqrt(squared);
    return true;
  }

  static float dot3(const float* a, const float* b) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

  /// Ericson's seven regions in single precision, corners relative to the query.
  static float squared_distance(const float* a, const float* b, const float* c) {
    const float ab[3] = {b[0] - a[0], b[1] - a[1], b[2] - a[2]}, ac[3] = {c[0] - a[0], c[1] - a[1], c[2] - a[2]};
    const float d1 = -dot3(ab, a), d2 = -dot3(ac, a), d3 = -dot3(ab, b), d4 = -dot3(ac, b), d5 = -dot3(ab, c),
                d6 = -dot3(ac, c);
    float v = 0, w = 0;
    const float vc = d1 * d4 - d3 * d2, vb = d5 * d2 - d1 * d6, va = d3 * d6 - d5 * d4;
    if (d1 <= 0 && d2 <= 0) {
      v = w = 0;
    } else if (d3 >= 0 && d4 <= d3) {
      v = 1;
    } else if (d6 >= 0 && d5 <= d6) {
      w = 1;
    } else if (vc <= 0 && d1 >= 0 && d3 <= 0) {
      v = d1 / (d1 - d3);
    } else if (vb <= 0 && d2 >= 0 && d6 <= 0) {
      w = d2 / (d2 - d6);
    } else if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
      w = (d4 - d3) / ((d4 - d3) + (d5 - d6));
      v = 1 - w;
    } else {
      const float scale = 1 / (va + vb + vc);
      v = vb * scale, w = vc * scale;
    }
    float q[3];
    for (int k = 0; k < 3; ++k) q[k] = a[k] + v * ab[k] + w * ac[k];
    return dot3(q, q);
  }

  void query(const std::vector<Vec3>& points, std::vector<float>& distances) const {
    for (std::size_t i = 0; i < points.size(); ++i) {
      RTCPointQuery q{};
      q.x = static_cast<float>(points[i].x), q.y = static_cast<float>(points[i].y),
      q.z = static_cast<float>(points[i].z);
      q.radius = std::numeric_limits<float>::infinity();
      RTCPointQueryContext context;
      rtcInitPointQueryContext(&context);
      Answer answer{this, std::numeric_limits<float>::infinity(), 0};
      rtcPointQuery(scene, &q, &context, &visit, &answer);
      distances[i] = std::sqrt(answer.squared_distance);
    }
  }
};

}  // namespace

int main(int argc, char** argv) {
  int rounds = 7;
  std::size_t count = 200000;
  for (int i = 1; i + 1 < argc; i += 2) {
    if (std::strcmp(argv[i], "--rounds") == 0) rounds = std::atoi(argv[i + 1]);
    if (std::strcmp(argv[i], "--queries") == 0) count = std::strtoull(argv[i + 1], nullptr, 10);
  }
  const ClothMesh cloth = make_cloth();
  std::printf("%zu triangles, %zu queries up to 5 mm off the cloth\n", cloth.triangles.triangles.size(), count);
  std::mt19937_64 random(1);
  std::uniform_real_distribution<double> share(0, 1);
  std::uniform_int_distribution<std::size_t> any(0, cloth.positions.size() - 1);
  const auto near_vertex = [&](std::size_t v) {
    return cloth.positions[v] + Vec3{10 * share(random) - 5, 10 * share(random) - 5, 10 * share(random) - 5};
  };
  std::vector<Vec3> coherent, scattered;
  for (std::size_t i = 0; i < count; ++i) coherent.push_back(near_vertex(i * cloth.positions.size() / count));
  for (std::size_t i = 0; i < count; ++i) scattered.push_back(near_vertex(any(random)));

  ClothIndex index(cloth), baseline(cloth);
  baseline.use_baseline_instructions();
  Peer peer(cloth);
  peer.build();
  std::vector<Surface> out(count), out_baseline(count);
  std::vector<float> distances(count);
  constexpr double kFar = std::numeric_limits<double>::infinity();
  std::vector<bench::Contender> contenders{
      {"build, ours", [&] { bench::keep(ClothIndex(cloth)); }},
      {"build, Embree", [&] { peer.build(); }},
      {"coherent, ours", [&] { index.closest_points(coherent, kFar, out); }},
      {"coherent, ours without wide vectors", [&] { baseline.closest_points(coherent, kFar, out_baseline); }},
      {"coherent, Embree", [&] { peer.query(coherent, distances); }},
      {"random, ours", [&] { index.closest_points(scattered, kFar, out); }},
      {"random, ours without wide vectors", [&] { baseline.closest_points(scattered, kFar, out_baseline); }},
      {"random, Embree", [&] { peer.query(scattered, distances); }},
  };
  bench::interleave(contenders, rounds);
  bench::print_table("closest points, one thread", contenders, static_cast<double>(count));

  // The two agree, and the two instruction sets to the bit.
  double worst = 0;
  bool same = true;
  for (std::size_t i = 0; i < count; ++i) {
    worst = std::max(worst, std::abs(out[i].distance - static_cast<double>(distances[i])));
    same = same && out[i].triangle == out_baseline[i].triangle && out[i].bary == out_baseline[i].bary &&
           out[i].point == out_baseline[i].point;
  }
  const auto ratio = [&](const char* ours, const char* other) {
    return bench::find(contenders, other).processor_median() / bench::find(contenders, ours).processor_median();
  };
  const double bytes =
      static_cast<double>(index.memory_bytes()) / static_cast<double>(cloth.triangles.triangles.size());
  std::printf("  largest difference of distances %.2g mm; with and without wide vectors %s\n", worst,
              same ? "the same bits" : "DIFFERENT");
  bool met = same && worst < 1e-3;
  met = bench::print_bar("Embree / ours, coherent", ratio("coherent, ours", "coherent, Embree"), false, 2) && met;
  met = bench::print_bar("Embree / ours, random", ratio("random, ours", "random, Embree"), false, 2) && met;
  met = bench::print_bar("Embree / ours, build", ratio("build, ours", "build, Embree"), false, 1) && met;
  met = bench::print_bar("bytes a triangle", bytes, true, 80) && met;
  return met ? 0 : 1;
}
