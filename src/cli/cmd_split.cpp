// SPDX-License-Identifier: MIT
#include <filesystem>

#include "cli/folder.hpp"
#include "cli/limits.hpp"
#include "cli/summary.hpp"

namespace trimtack::cli {

int run(const SplitOptions& options) {
  Session session("split", options.common);
  Result<FileSet> files = FileSet::open(options.output);
  if (!files) return session.fail(files.error());
  const bool numbers = options.verify || options.prototypes || options.selectors.cut;
  Result<SourceMesh> combined = read_combined(session, options.input, numbers ? Normals::Numbers : Normals::Text);
  if (!combined) return session.fail(combined.error());
  session.progress("finding the parts");
  const Result<Garment> garment = take_apart(
      std::move(*combined), pipeline_options(options.common, options.selectors, session.executor()), session.report());
  if (!garment) return session.fail(garment.error());
  give_back_freed_memory();
  if (options.verify) {
    if (auto verified = verify_split(session, *garment); !verified) return session.fail(verified.error());
  }
  const std::filesystem::path materials = std::filesystem::path(options.input).parent_path();
  auto written = write_split(session, *files, *garment, {materials}, session.report());
  if (written && options.prototypes) written = write_prototypes(session, *files, *garment);
  if (written) written = files->commit(session.executor());
  if (!written) return session.fail(written.error());

  say_parts(session, garment->parts);
  say_files(session, options.output, *files);
  if (options.verify) session.say("verified: the outputs give the combined export back exactly");
  JsonObject answer = parts_summary(garment->parts);
  answer.text("output", options.output).flag("verified", options.verify).raw("files", files_json(*files));
  return session.finish(answer);
}

}  // namespace trimtack::cli
