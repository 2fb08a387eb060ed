// SPDX-License-Identifier: MIT
/// A mesh is studied, and trims that are welded to the cloth are cut off.
#pragma once

#include "stages/find/study.hpp"
#include "trimtack/welded_trims.hpp"

namespace trimtack {

struct WhatToCut {
  bool hanging = false;     ///< what hangs on the cloth by single vertices or branching edges
  bool creased = false;     ///< what only creases or materials set off
  double sure_from = 0.85;  ///< a trim of so much confidence is looked at as a whole
};

struct StudiedMesh {
  CutMesh mesh;       ///< with its text and without groups when nothing was cut
  Study study;        ///< of `mesh`
  Index hanging = 0;  ///< the first of the trims that were cut off
};

/// Cost: a study, and one more each time something is cut off. @error as study().
Result<StudiedMesh> study_and_cut(SourceMesh mesh, const IdentifyOptions& options, const WhatToCut& what,
                                  Report& report);

}  // namespace trimtack
