// SPDX-License-Identifier: MIT
/// What each command was asked to do, and the functions that do it. They return the exit code.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "trimtack/fit_result.hpp"
#include "trimtack/pipeline.hpp"

namespace trimtack::cli {

/// Options that every command has.
struct CommonOptions {
  bool json = false, quiet = false;
  int threads = 0;
  std::string unit, up;          ///< empty: deduced
  std::uint64_t max_memory = 0;  ///< bytes; 0: the default
};

/// Which parts an author settled, in the order given.
struct SelectorOptions {
  std::vector<Override> overrides;
  std::string stitching = "bind";
  bool cut = false, ignore_names = false;
};

struct InspectOptions {
  CommonOptions common;
  SelectorOptions selectors;
  std::string input, picture;
};
struct SplitOptions {
  CommonOptions common;
  SelectorOptions selectors;
  std::string input, output;
  bool verify = false, prototypes = false;
};
/// Frames as the user named them, and the numbers wanted.
struct FrameOptions {
  std::vector<std::string> frames;
  std::optional<std::uint64_t> first, last;
  double frames_per_second = 24;  ///< of glTF animations, and of a scene written
};
struct BindCommandOptions {
  CommonOptions common;
  SelectorOptions selectors;
  std::string input, output, frame = "auto", picture;
  double bend_mm = 30, noise_mm = 0.05;
  FrameOptions bend_frames;
  std::map<Index, Index> layers;
  bool pieces = false, verify = false, prototypes = false;
};
struct RebindCommandOptions {
  CommonOptions common;
  std::string input, cloth, output, by = "auto";
  double reach_mm = 5;
};
struct FollowOptions {
  CommonOptions common;
  FrameOptions frames;
  std::string input, output, poses = "both", bake = "none", whole = "none";
  bool seat = false;
  double seat_tilt_deg = 0;
};
struct CheckOptions {
  CommonOptions common;
  FrameOptions frames;
  std::string input, report, csv, picture;
  FitLimits limits;
  bool seat = false;
};
struct ExportOptions {
  CommonOptions common;
  FrameOptions frames;
  std::string input, output;
  std::vector<std::string> formats;
  bool step = false, instancing = false;
};
struct RigidOptions {
  CommonOptions common;
  SelectorOptions selectors;
  std::string input, output, as = "nodes";
  double frames_per_second = 24;
};
struct DemoCommandOptions {
  CommonOptions common;
  std::string output;
  std::uint64_t seed = 1;
  int frames = 24;
  bool faults = false;
};
struct VerifyOptions {
  CommonOptions common;
  std::string input;
};

int run(const InspectOptions& options);
int run(const SplitOptions& options);
int run(const BindCommandOptions& options);
int run(const RebindCommandOptions& options);
int run(const FollowOptions& options);
int run(const CheckOptions& options);
int run(const ExportOptions& options);
int run(const RigidOptions& options);
int run(const DemoCommandOptions& options);
int run(const VerifyOptions& options);

}  // namespace trimtack::cli
