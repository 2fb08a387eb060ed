// SPDX-License-Identifier: MIT
// Laws of reading bindings.json, on any bytes: a table or an error that names the file; what is read can be encoded,
// and written and read again gives the same table.
#include <cstdint>
#include <string_view>

#include "fuzz/fuzz_check.hpp"
#include "trimtack/io/table_json.hpp"
#include "trimtack/version.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace trimtack;
  const auto table = read_table_json({reinterpret_cast<const char*>(data), size}, "bindings.json");
  if (!table) {
    require_law(table.error().subject == "bindings.json" && !table.error().message.empty(), "errors name the file");
    return 0;
  }
  require_law(encode(*table, TT_TABLE_FORMAT_LATEST).has_value(), "what is read can be encoded");
  const auto again = read_table_json(write_table_json(*table), "bindings.json");
  require_law(again.has_value() && *again == *table, "write and read gives the same table");
  return 0;
}
