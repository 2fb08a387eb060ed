// SPDX-License-Identifier: MIT
// Laws of reading a folder's manifest, on any bytes: entries whose names stay in the folder, or an error that names the
// file; what is read can be written and read again.
#include <cstdint>
#include <string>
#include <string_view>

#include "fuzz/fuzz_check.hpp"
#include "io/manifest.hpp"

using namespace trimtack;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto read = read_manifest({reinterpret_cast<const char*>(data), size}, "manifest");
  if (!read) {
    require_law(read.error().code == ErrorCode::BadInput && read.error().subject == "manifest", "errors name the file");
    return 0;
  }
  for (const ManifestEntry& entry : *read) {
    const std::string& name = entry.name;
    require_law(!name.empty() && name[0] != '/' && ("/" + name + "/").find("/../") == std::string::npos &&
                    name.find('\0') == std::string::npos && name.find('\n') == std::string::npos,
                "names stay in the folder");
  }
  const auto again = read_manifest(write_manifest(*read), "again");
  require_law(again.has_value() && again->size() == read->size(), "what is read can be written and read");
  for (std::size_t i = 0; i < read->size(); ++i) {
    const ManifestEntry &a = (*read)[i], &b = (*again)[i];
    require_law(a.name == b.name && a.bytes == b.bytes && a.crc == b.crc, "and is the same");
  }
  return 0;
}
