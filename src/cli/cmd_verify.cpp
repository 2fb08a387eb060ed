// SPDX-License-Identifier: MIT
#include "cli/common.hpp"

namespace trimtack::cli {

int run(const VerifyOptions& options) {
  Session session("verify", options.common);
  const Result<ReadLock> lock = ReadLock::open(options.input);
  if (!lock) return session.fail(lock.error());
  const Result<std::vector<CheckedFile>> files = verify_folder(options.input);
  if (!files) return session.fail(files.error());
  std::vector<std::string> items;
  std::size_t faults = 0;
  for (const CheckedFile& file : *files) {
    items.push_back(
        JsonObject().text("name", file.name).text("state", to_text(file.state)).whole("bytes", file.bytes).done());
    if (file.state == FileState::Whole) continue;
    ++faults;
    std::string line = file.name + ": " + to_text(file.state) + " since trimtack wrote it";
    if (file.name == "parts.json" && file.state == FileState::Edited) {
      line += "; bind the folder again to apply the edits";
    }
    session.say(line);
  }
  if (faults == 0) session.say(options.input + " is whole: " + plural(files->size(), "file", "files") + " as written");
  JsonObject answer;
  answer.text("folder", options.input).flag("whole", faults == 0).raw("files", json_list(items));
  return session.finish(answer, faults == 0 ? kDone : kBadInput);
}

}  // namespace trimtack::cli
