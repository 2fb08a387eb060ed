// SPDX-License-Identifier: MIT
// Puts the demo coat's pieces and trims together as one export.
#include "trimtack/demo.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <utility>

#include "demo/faults.hpp"
#include "demo/motion.hpp"
#include "demo/trims.hpp"
#include "trimtack/parts.hpp"

namespace trimtack {
namespace {

using coat::Coat;
using coat::Fitted;
using coat::Panel;
using coat::Solid;

double rounded(double v) { return std::round(v * 1e5) / 1e5; }
Vec3 rounded(const Vec3& p) { return {rounded(p.x), rounded(p.y), rounded(p.z)}; }

constexpr double kSheet = 2000;  ///< mm of pattern for one unit of texture
constexpr double kSwatch = 40;   ///< the same for the trims' own texture

/// Appends pieces and trims to the export, with names and truth.
class Assembly {
 public:
  explicit Assembly(Demo& demo) : mesh_(demo.combined), truth_(demo.truth) {}

  void add(const Panel& panel) {
    const auto base = static_cast<Index>(mesh_.positions.size()), uv = static_cast<Index>(mesh_.texcoords.size());
    set_state(panel.name, panel.group, panel.material);
    for (const Vec3& p : panel.positions) {
      truth_.cloth_vertices.push_back(static_cast<Index>(mesh_.positions.size()));
      mesh_.positions.push_back(rounded(p));
    }
    for (const Vec2& p : panel.flat) mesh_.texcoords.push_back({rounded(p.x / kSheet), rounded(p.y / kSheet)});
    vertices_[panel.name] = {base, static_cast<Index>(mesh_.positions.size())};
    const int number = static_cast<int>(truth_.panel_names.size());
    truth_.panel_names.push_back(panel.name);
    for (const auto& face : panel.faces) {
      for (const Index v : face) corner(base + v, uv + v);
      close_face(0, -1, number);
    }
  }

  void add(const Fitted& trim) {
    const int number = static_cast<int>(truth_.trim_names.size());
    truth_.trim_names.push_back(trim.name);
    for (const Solid& part : trim.parts) {
      set_state(trim.object, trim.group, part.material);
      const auto base = static_cast<Index>(mesh_.positions.size());
      for (const Vec3& p : part.vertices) mesh_.positions.push_back(rounded(trim.world(p)));
      const Index uv = part.stitching ? kNone : swatch(part);
      for (const auto& face : part.faces) {
        for (const Index v : face) corner(base + v, uv == kNone ? kNone : uv + v);
        close_face(part.stitching ? 2 : 1, number, -1);
      }
    }
  }

  IndexRange vertices_of(const std::string& panel) const { return vertices_.at(panel); }

 private:
  void corner(Index position, Index texcoord) {
    mesh_.corner_position.push_back(position);
    mesh_.corner_texcoord.push_back(texcoord);
  }
  void close_face(int role, int trim, int panel) {
    mesh_.face_offsets.push_back(static_cast<Index>(mesh_.corner_position.size()));
    truth_.role_of_component_face.push_back(role);
    truth_.trim_of_face.push_back(trim);
    truth_.panel_of_face.push_back(panel);
  }
  /// Copies of a part share its texture coordinates: seen from above, as many as it has vertices.
  Index swatch(const Solid& part) {
    const auto key = std::make_pair(part.vertices.size(), std::string(part.material));
    const auto [it, fresh] = swatches_.try_emplace(key, static_cast<Index>(mesh_.texcoords.size()));
    if (fresh)
      for (const Vec3& p : part.vertices)
        mesh_.texcoords.push_back({rounded(0.5 + p.x / kSwatch), rounded(0.5 + (p.y + 0.7 * p.z) / kSwatch)});
    return it->second;
  }
  static Index name(std::vector<std::string>& names, std::map<std::string, Index>& known, const std::string& text) {
    const auto [it, fresh] = known.try_emplace(text, static_cast<Index>(names.size()));
    if (fresh) names.push_back(text);
    return it->second;
  }
  void set_state(const std::string& object, const std::string& group, const std::string& material) {
    FaceState state;
    state.object = name(mesh_.objects, objects_, object);
    state.group = name(mesh_.groups, groups_, group);
    state.material = name(mesh_.materials, materials_, material);
    const Index here = mesh_.face_count();
    if (mesh_.states.empty() || !(mesh_.states.back().state == state)) mesh_.states.push_back({here, state});
  }

  SourceMesh& mesh_;
  DemoTruth& truth_;
  std::map<std::string, IndexRange> vertices_;
  std::map<std::string, Index> objects_, groups_, materials_;
  std::map<std::pair<std::size_t, std::string>, Index> swatches_;
};

Index trim_named(const DemoTruth& truth, const std::string& name) {
  for (std::size_t i = 0; i < truth.trim_names.size(); ++i)
    if (truth.trim_names[i] == name) return static_cast<Index>(i);
  return kNone;
}

void make_frames(Demo& demo, const DemoOptions& options, IndexRange under_front,
                 const std::array<Index, 3>& collapsing) {
  coat::Random random{options.seed * 13 + 1};
  const double phase = random.between(0, 2 * std::numbers::pi);
  const int count = std::max(0, options.frames);
  demo.frames.resize(static_cast<std::size_t>(count));
  for (int f = 0; f < count; ++f) {
    const coat::Motion motion = coat::motion_at(static_cast<double>(f + 1) / count, phase);
    std::vector<Vec3>& frame = demo.frames[static_cast<std::size_t>(f)];
    frame.reserve(demo.combined.positions.size());
    for (Index v = 0; v < demo.combined.positions.size(); ++v) {
      const Vec3& rest = demo.combined.positions[v];
      const bool under = v >= under_front.first && v < under_front.end;
      frame.push_back(rounded(coat::moved(under ? coat::slipped(rest, motion) : rest, motion)));
    }
    if (f + 1 != coat::kCollapsedFrame || collapsing[0] == kNone) continue;
    coat::flatten_triangle(frame, collapsing);
    for (const Index v : collapsing) frame[v] = rounded(frame[v]);
  }
}

}  // namespace

Demo make_demo(const DemoOptions& options) {
  Demo demo;
  demo.combined.file = "chore_coat.obj";
  demo.combined.material_libraries = {"chore_coat.mtl"};
  Coat coat = coat::make_coat(options.seed);
  const auto trims = coat::fit_trims(coat, options.seed, options.faults ? coat::kWrongLayerButton : -1, options.faults);
  if (options.faults) {
    for (const char* name : {"hip_pocket_left", "front_left"})
      coat::plant_sliver(coat.panel(name), coat::sliver_rivet_place(), coat::kSliverWidth);
  }
  Assembly assembly(demo);
  // The order of an export grown over time: body, its buttons, then the pockets and what sits on them.
  constexpr std::size_t kBodyPieces = 9, kButtons = 8;
  for (std::size_t i = 0; i < kBodyPieces; ++i) assembly.add(coat.panels[i]);
  for (std::size_t i = 0; i < kButtons; ++i) assembly.add(trims[i]);
  for (std::size_t i = kBodyPieces; i < coat.panels.size(); ++i) assembly.add(coat.panels[i]);
  for (std::size_t i = kButtons; i < trims.size(); ++i) assembly.add(trims[i]);
  std::array<Index, 3> collapsing{kNone, kNone, kNone};
  if (options.faults) {
    DemoFaults& faults = demo.truth.faults;
    faults.wrong_layer = trim_named(demo.truth, "button_" + std::to_string(coat::kWrongLayerButton + 1));
    faults.too_long = trim_named(demo.truth, "elbow_bar");
    faults.sliver = trim_named(demo.truth, "rivet_2");
    faults.collapsed = trim_named(demo.truth, "snap_left");
    faults.collapsed_frame = coat::kCollapsedFrame;
    const Panel& flap = coat.panel("chest_flap_left");
    const coat::Place at = coat::PanelFinder(flap).at(coat::left_snap_place());
    // The lower one of the two corners with less weight moves: the snap's own place stays, its triangle is gone.
    const auto most =
        static_cast<std::size_t>(std::max_element(at.weights.begin(), at.weights.end()) - at.weights.begin());
    std::array<Index, 3> corners{at.corners[(most + 1) % 3], at.corners[(most + 2) % 3], at.corners[most]};
    if (flap.cut[corners[1]].y < flap.cut[corners[0]].y) std::swap(corners[0], corners[1]);
    for (std::size_t k = 0; k < 3; ++k) collapsing[k] = assembly.vertices_of(flap.name).first + corners[k];
  }
  make_frames(demo, options, assembly.vertices_of("front_right"), collapsing);
  return demo;
}

}  // namespace trimtack
