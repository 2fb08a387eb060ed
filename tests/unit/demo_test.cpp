// SPDX-License-Identifier: MIT
// The demo coat is what its header says: names, counts, sewn seams, flat pieces, congruent trims, planted faults.
#include "trimtack/demo.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <map>
#include <set>
#include <tuple>

using namespace trimtack;

namespace {

using Key = std::tuple<double, double, double>;
Key key(const Vec3& p) { return {p.x, p.y, p.z}; }

struct Piece {
  std::vector<Index> faces;
  std::set<Index> vertices;
};

std::vector<Piece> pieces(const Demo& demo, const std::vector<int>& of_face, std::size_t count) {
  std::vector<Piece> out(count);
  for (Index f = 0; f < demo.combined.face_count(); ++f) {
    if (of_face[f] < 0) continue;
    Piece& piece = out[static_cast<std::size_t>(of_face[f])];
    piece.faces.push_back(f);
    for (const Index v : demo.combined.face(f)) piece.vertices.insert(v);
  }
  return out;
}

/// V - E + F, and whether every edge is met once each way.
std::pair<long, bool> topology(const SourceMesh& mesh, const Piece& piece) {
  std::set<std::pair<Index, Index>> edges;
  bool closed = true;
  std::size_t half_edges = 0;
  for (const Index f : piece.faces) {
    const auto face = mesh.face(f);
    for (std::size_t k = 0; k < face.size(); ++k) {
      closed = edges.insert({face[k], face[(k + 1) % face.size()]}).second && closed;
      ++half_edges;
    }
  }
  for (const auto& [a, b] : edges) closed = closed && edges.count({b, a}) == 1;
  return {static_cast<long>(piece.vertices.size()) - static_cast<long>(half_edges / 2) +
              static_cast<long>(piece.faces.size()),
          closed};
}

Index number_of(const std::vector<std::string>& names, const std::string& name) {
  const auto at = std::find(names.begin(), names.end(), name);
  REQUIRE(at != names.end());
  return static_cast<Index>(at - names.begin());
}

}  // namespace

TEST_CASE("demo: every face has one role, and a trim or a piece of cloth", "[demo]") {
  const Demo demo = make_demo({});
  const auto faces = demo.combined.face_count();
  REQUIRE(demo.truth.role_of_component_face.size() == faces);
  REQUIRE(demo.truth.trim_of_face.size() == faces);
  REQUIRE(demo.truth.panel_of_face.size() == faces);
  CHECK(faces > 15000);
  CHECK(faces < 45000);
  std::set<Index> cloth(demo.truth.cloth_vertices.begin(), demo.truth.cloth_vertices.end());
  std::size_t wrong = 0, quads = 0, triangles = 0;
  for (Index f = 0; f < faces; ++f) {
    const bool is_cloth = demo.truth.role_of_component_face[f] == 0;
    wrong += is_cloth != (demo.truth.trim_of_face[f] < 0);
    wrong += is_cloth != (demo.truth.panel_of_face[f] >= 0);
    for (const Index v : demo.combined.face(f)) wrong += is_cloth != (cloth.count(v) == 1);
    if (is_cloth) (demo.combined.face(f).size() == 4 ? quads : triangles)++;
  }
  CHECK(wrong == 0);
  CHECK(quads > 1000);
  CHECK(triangles > 1000);
  const auto count = [&](const std::string& stem) {
    return std::count_if(demo.truth.trim_names.begin(), demo.truth.trim_names.end(),
                         [&](const std::string& name) { return name.rfind(stem, 0) == 0; });
  };
  CHECK(count("button_") == 6);
  CHECK(count("cuff_button_") == 2);
  CHECK(count("snap_") == 2);
  CHECK(count("rivet_") == 4);
  CHECK(count("zip_slider") == 1);
  CHECK(count("zip_element_") == 98);
  CHECK(count("stitch_") > 300);
  CHECK(demo.frames.size() == 24);
}

TEST_CASE("demo: the same options give the same bytes, another seed another coat", "[demo]") {
  const Demo a = make_demo({.seed = 5, .frames = 2}), b = make_demo({.seed = 5, .frames = 2});
  const Demo c = make_demo({.seed = 6, .frames = 2});
  CHECK(same_content(a.combined, b.combined));
  CHECK(a.frames == b.frames);
  CHECK_FALSE(same_content(a.combined, c.combined));
}

TEST_CASE("demo V4: buttons are closed solids of 24 and 20 ligne with a handle per hole", "[demo]") {
  const Demo demo = make_demo({.frames = 0});
  const auto trims = pieces(demo, demo.truth.trim_of_face, demo.truth.trim_names.size());
  for (const auto& [name, chi, diameter] : {std::tuple{"button_3", -6L, 15.24}, {"cuff_button_left", -2L, 12.70}}) {
    Piece body;
    for (const Index f : trims[number_of(demo.truth.trim_names, name)].faces) {
      const FaceState state = state_of(demo.combined, f);
      if (demo.combined.materials[state.material] != "horn_brown") continue;
      body.faces.push_back(f);
      for (const Index v : demo.combined.face(f)) body.vertices.insert(v);
    }
    const auto [euler, closed] = topology(demo.combined, body);
    CHECK(closed);
    CHECK(euler == chi);
    double widest = 0;
    for (const Index a : body.vertices)
      for (const Index b : body.vertices)
        widest = std::max(widest, length(demo.combined.positions[a] - demo.combined.positions[b]));
    CHECK(widest == Approx(diameter).margin(0.02));  // across the middle of the round rim
  }
}

TEST_CASE("demo: copies of a trim are congruent to the rounding of the coordinates", "[demo]") {
  const Demo demo = make_demo({.frames = 0});
  const auto trims = pieces(demo, demo.truth.trim_of_face, demo.truth.trim_names.size());
  for (const auto& [first, other] : {std::pair{"button_1", "button_6"},
                                     {"stitch_0001", "stitch_0300"},
                                     {"zip_element_001", "zip_element_098"},
                                     {"rivet_1", "rivet_4"}}) {
    const Piece &a = trims[number_of(demo.truth.trim_names, first)],
                &b = trims[number_of(demo.truth.trim_names, other)];
    REQUIRE(a.vertices.size() == b.vertices.size());
    double worst = 0;
    auto at = b.vertices.begin();
    const Index a0 = *a.vertices.begin(), b0 = *b.vertices.begin();
    for (const Index v : a.vertices) {
      worst = std::max(worst, std::abs(length(demo.combined.positions[v] - demo.combined.positions[a0]) -
                                       length(demo.combined.positions[*at] - demo.combined.positions[b0])));
      ++at;
    }
    CHECK(worst < 5e-5);
  }
}

TEST_CASE("demo: seams are sewn by equal positions, not by shared vertices", "[demo]") {
  const Demo demo = make_demo({.frames = 3});
  const auto panels = pieces(demo, demo.truth.panel_of_face, demo.truth.panel_names.size());
  const auto shared = [&](const char* one, const char* two, std::span<const Vec3> positions) {
    std::set<Key> keys;
    for (const Index v : panels[number_of(demo.truth.panel_names, one)].vertices) keys.insert(key(positions[v]));
    int count = 0;
    for (const Index v : panels[number_of(demo.truth.panel_names, two)].vertices)
      count += keys.count(key(positions[v])) > 0;
    return count;
  };
  for (const auto& positions : {demo.combined.positions, demo.frames[2]}) {
    CHECK(shared("front_left", "back", positions) == 23 + 9);  // side seam and shoulder, every other vertex
    CHECK(shared("front_right", "back", positions) == 23 + 9);
    CHECK(shared("front_left", "sleeve_left", positions) == 15);
    CHECK(shared("back", "sleeve_right", positions) == 15);
    CHECK(shared("sleeve_left", "cuff_left", positions) == 27);
    CHECK(shared("back", "collar_band", positions) == 17);
    CHECK(shared("collar_band", "collar_fall", positions) == 45);
    CHECK(shared("front_left", "front_right", positions) == 0);
  }
}

TEST_CASE("demo: every piece shows its right side outwards, the inside ones inwards", "[demo]") {
  const Demo demo = make_demo({.frames = 0});
  const auto panels = pieces(demo, demo.truth.panel_of_face, demo.truth.panel_names.size());
  for (std::size_t i = 0; i < panels.size(); ++i) {
    const std::string& name = demo.truth.panel_names[i];
    if (name == "collar_band") continue;  // its right side is the neck's
    const bool inside = name.rfind("inside", 0) == 0 || name.rfind("zip_", 0) == 0 || name == "size_label";
    Vec3 middle;  // of tubes: their own; else the wearer's
    const bool tube = name.rfind("sleeve", 0) == 0 || name.rfind("cuff", 0) == 0;
    if (tube)
      for (const Index v : panels[i].vertices)
        middle += (1.0 / static_cast<double>(panels[i].vertices.size())) * demo.combined.positions[v];
    double outwards = 0, all = 0;
    for (const Index f : panels[i].faces) {
      const auto face = demo.combined.face(f);
      const auto& x = demo.combined.positions;
      const Vec3 n = cross(x[face[1]] - x[face[0]], x[face[2]] - x[face[0]]);
      Vec3 out = x[face[0]] - middle;
      if (tube) {  // square to the arm
        const Vec3 axis = normalized(Vec3{middle.x > 0 ? 0.67 : -0.67, -0.74, 0});
        out = out - dot(out, axis) * axis;
      } else {
        out.y = 0;
      }
      outwards += dot(n, out) > 0 ? length(n) : 0;
      all += length(n);
    }
    INFO(name);
    CHECK((inside ? 1 - outwards / all : outwards / all) > 0.9);
  }
}

TEST_CASE("demo: UVs are the flattened pieces at one scale, apart from each other", "[demo]") {
  const Demo demo = make_demo({.frames = 0});
  const auto panels = pieces(demo, demo.truth.panel_of_face, demo.truth.panel_names.size());
  struct Rectangle {
    double x0 = 1e9, y0 = 1e9, x1 = -1e9, y1 = -1e9;
  };
  std::vector<Rectangle> boxes;
  double sum = 0, count = 0;
  for (const Piece& panel : panels) {
    Rectangle box;
    double turned = 0;
    for (const Index f : panel.faces) {
      const Index first = demo.combined.face_offsets[f], end = demo.combined.face_offsets[f + 1];
      double area = 0;
      for (Index c = first; c < end; ++c) {
        const Index d = c + 1 == end ? first : c + 1;
        const Vec2 a = demo.combined.texcoords[demo.combined.corner_texcoord[c]];
        const Vec2 b = demo.combined.texcoords[demo.combined.corner_texcoord[d]];
        const Vec3 p = demo.combined.positions[demo.combined.corner_position[c]];
        const Vec3 q = demo.combined.positions[demo.combined.corner_position[d]];
        sum += std::abs(2000 * std::hypot(b.x - a.x, b.y - a.y) / length(q - p) - 1);
        count += 1;
        area += 0.5 * (a.x * b.y - b.x * a.y);
        box = {std::min(box.x0, a.x), std::min(box.y0, a.y), std::max(box.x1, a.x), std::max(box.y1, a.y)};
      }
      turned += area <= 0;
    }
    CHECK(turned == 0);  // no piece is folded over or mirrored
    for (const Rectangle& other : boxes)
      CHECK((box.x0 >= other.x1 || other.x0 >= box.x1 || box.y0 >= other.y1 || other.y0 >= box.y1));
    boxes.push_back(box);
  }
  CHECK(sum / count < 0.02);
}

TEST_CASE("demo: frames are finite, begin near rest and bend the trims with the cloth", "[demo]") {
  const Demo demo = make_demo({});
  double first = 0;
  for (std::size_t v = 0; v < demo.combined.positions.size(); ++v)
    first = std::max(first, length(demo.frames[0][v] - demo.combined.positions[v]));
  CHECK(first < 15);
  for (const auto& frame : demo.frames) {
    REQUIRE(frame.size() == demo.combined.positions.size());
    CHECK(std::all_of(frame.begin(), frame.end(), [](const Vec3& p) { return is_finite(p); }));
  }
  const auto trims = pieces(demo, demo.truth.trim_of_face, demo.truth.trim_names.size());
  const Piece& button = trims[number_of(demo.truth.trim_names, "button_4")];
  const auto widest = [&](std::span<const Vec3> x) {
    double w = 0;
    for (const Index a : button.vertices)
      for (const Index b : button.vertices) w = std::max(w, length(x[a] - x[b]));
    return w;
  };
  CHECK(widest(demo.frames[23]) > 1.03 * widest(demo.combined.positions));
}

TEST_CASE("demo: the planted faults are where the truth says, and only there", "[demo]") {
  const Demo demo = make_demo({.faults = true});
  const DemoFaults& faults = demo.truth.faults;
  REQUIRE(faults.wrong_layer != kNone);
  REQUIRE(faults.too_long != kNone);
  REQUIRE(faults.sliver != kNone);
  REQUIRE(faults.collapsed != kNone);
  CHECK(faults.collapsed_frame == 17);
  // Faces of cloth without any area: in frame 17 only, and there one triangle.
  const auto area = [&](Index f, std::span<const Vec3> x) {
    const auto face = demo.combined.face(f);
    Vec3 sum;
    for (std::size_t k = 2; k < face.size(); ++k) sum += cross(x[face[k - 1]] - x[face[0]], x[face[k]] - x[face[0]]);
    return 0.5 * length(sum);
  };
  for (std::size_t i = 0; i < demo.frames.size(); ++i) {
    int collapsed = 0;
    for (Index f = 0; f < demo.combined.face_count(); ++f)
      collapsed += demo.truth.role_of_component_face[f] == 0 && area(f, demo.frames[i]) < 1e-3;
    CHECK(collapsed == (i + 1 == 17 ? 1 : 0));
  }
  int needles = 0;  // two across the rivet's place on each of the two layers
  for (Index f = 0; f < demo.combined.face_count(); ++f) {
    if (demo.truth.role_of_component_face[f] != 0) continue;
    const auto face = demo.combined.face(f);
    double longest = 0, shortest = 1e9;
    for (std::size_t k = 0; k < face.size(); ++k) {
      const double edge =
          length(demo.combined.positions[face[k]] - demo.combined.positions[face[(k + 1) % face.size()]]);
      longest = std::max(longest, edge);
      shortest = std::min(shortest, edge);
    }
    needles += shortest < 0.3 && longest > 5 * shortest;
  }
  CHECK(needles == 4);
  const Demo sound = make_demo({.frames = 0});
  CHECK(sound.truth.faults.wrong_layer == kNone);
  CHECK(demo.truth.trim_names.size() == sound.truth.trim_names.size() + 1);
}
