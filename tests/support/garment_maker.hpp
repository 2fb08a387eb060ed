// SPDX-License-Identifier: MIT
/// How a made-up garment comes about: sew the cloth, sew the trims on, write it out as some exporter would.
#pragma once

#include <string>
#include <vector>

#include "support/garment_generator.hpp"
#include "support/haberdashery.hpp"
#include "support/random.hpp"
#include "support/solids.hpp"

namespace trimtack::testing {

class GarmentMaker {
 public:
  GarmentMaker(std::uint64_t seed, const GarmentOptions& options);
  void sew();
  void add_trims();
  Garment write_out();

 private:
  struct Piece {
    Solid solid;
    TruePiece truth;
  };
  /// A stretch of cloth on which trims may be placed.
  struct Site {
    Surface3 surface;
    double width = 0, height = 0;
  };
  struct Taken {
    Vec3 at;
    double radius;
  };

  // cloth (garment_cloth.cpp)
  void choose_style();
  Surface3 draped(const Surface3& flat, double layer) const;
  void add_panel(const std::string& name, const Surface3& surface, double width, double height, int outline = 0,
                 double spacing_share = 1);
  void add_cloth(Solid solid, const std::string& name);
  void add_piece(Solid solid, Role role, Index trim, const std::string& kind);
  void sew_body();
  void sew_sleeves();
  void sew_bag();
  void sew_small_parts();
  void sew_cords();
  void sew_tassel(const Pose& at);
  void sew_belt_loops();

  // trims (garment_trims.cpp)
  Index new_shape() { return shapes_++; }
  bool place_free(const Vec3& at, double radius);
  bool random_place(double radius, Site& site, Vec2& uv);
  void put(const TrimModel& model, Index shape, const Pose& pose, bool mirrored = false, double scale = 1);
  void add_buttons();
  void add_scattered(const TrimModel& model, int count);
  void add_zipper();
  void add_hooks();
  void add_embellishment();
  void add_buckles();
  void add_stitches();
  void add_fine_trim();

  GarmentOptions options_;
  Random random_;
  Garment out_;
  std::vector<Piece> pieces_;
  std::vector<Site> sites_;
  std::vector<Taken> taken_;
  std::vector<std::vector<Vec3>> cord_tips_;
  Index shapes_ = 0;

  // style
  int body_ = 0;
  double size_ = 1;  // 1: adult, smaller: doll
  double spacing_ = 10;
  double thickness_ = 0;  // 0: single sheets
  bool walls_ = true;
  double jitter_ = 0;
  double wrinkle_ = 0, wave_ = 100, phase_ = 0;
  double seam_gap_ = 0;
  double cord_radius_ = 2;
};

}  // namespace trimtack::testing
