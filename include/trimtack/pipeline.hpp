// SPDX-License-Identifier: MIT
/// The stages in order: what the program and most callers use.
#pragma once

#include <memory>
#include <span>

#include "trimtack/bind.hpp"
#include "trimtack/cloth.hpp"
#include "trimtack/cloth_index.hpp"
#include "trimtack/identify.hpp"
#include "trimtack/mesh.hpp"
#include "trimtack/report.hpp"
#include "trimtack/result.hpp"
#include "trimtack/split.hpp"

namespace trimtack {

/// What happens to stitches: each bound like a trim, kept with the cloth, or split off and not bound.
enum class StitchingChoice : std::uint8_t { Bind, Cloth, Drop };

struct PipelineOptions {
  IdentifyOptions identify;
  StitchingChoice stitching = StitchingChoice::Bind;
  /// Trims that are welded to the cloth are cut off first (see welded_trims.hpp); `combined` has doubled vertices then.
  bool cut = false;
  bool pieces = false;  ///< trims too long for their bend are cut between their components (see cut_long_trims)
  BindOptions bind;
};

/// A combined export taken apart. The maps refer to `combined`.
struct Garment {
  SourceMesh combined;
  Parts parts;
  SplitMaps maps;
};
/// weld -> components -> roles -> trims -> prototypes -> rows -> split, with stitching treated as chosen.
/// @error as identify().
Result<Garment> take_apart(SourceMesh combined, const PipelineOptions& options, Report& report);

/// A garment's bindings and what they were made of. `index` refers to `cloth`.
struct BoundGarment {
  std::unique_ptr<ClothMesh> cloth;
  std::unique_ptr<ClothIndex> index;
  TrimShapes trims;  ///< those that were bound, in table order
  BindTable table;
};
/// cloth index -> bind, in three steps, for who wants to give back what is not needed any more. The first copies the
/// faces of the cloth: of the garment's mesh only positions and faces are asked for after that.
/// @param lists  OfSolver for who asks for nothing but the table: the cloth has no texture coordinates then
/// @error BadInput when there is no cloth; Usage when `layer` names a trim or a component that does not exist or is no
/// cloth.
Result<BoundGarment> begin_binding(const Garment& garment, const PipelineOptions& options,
                                   TrimLists lists = TrimLists::All);
/// The index and the trims: mesh and maps are not needed after that. @error BadInput as check_reach().
/// @param lists  of the trims; OfSolver for who asks for nothing but the table
Result<void> gather_for_binding(BoundGarment& bound, const Garment& garment, const PipelineOptions& options,
                                TrimLists lists = TrimLists::All);
/// The table. @error as bind().
Result<void> bind_gathered(BoundGarment& bound, const Parts& parts, const PipelineOptions& options, Report& report);
/// All three.
Result<BoundGarment> bind_garment(const Garment& garment, const PipelineOptions& options, Report& report);

/// The trims of `ids`, in that order (the order of a binding table). @error BadInput for an id that is not there.
Result<TrimShapes> select_trims(const TrimShapes& trims, std::span<const Index> ids);

/// All stitching becomes cloth: trims, prototypes and rows made of stitches go, the others are renumbered in order.
void keep_stitching_with_cloth(Parts& parts);

/// Trims become the pieces that cut_long_trims() made of them: each piece is a trim of its own then, with a prototype
/// of its own. Ids are renewed in the order of `pieces`; rows follow. @pre pieces were made of all trims of `parts`.
void split_into_pieces(Parts& parts, const TrimShapes& pieces);

}  // namespace trimtack
