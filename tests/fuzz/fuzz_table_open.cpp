// SPDX-License-Identifier: MIT
// Laws of opening and evaluating a binding table, on any bytes: open refuses with a reason or accepts; what is accepted
// evaluates on any cloth to finite proper motions, the same bits one by one as all at once; decoding and encoding gives
// the same bytes. Bytes are tried as they are, and with the length and checksum made right, so that the checks behind
// those are reached.
#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <vector>

#include "fuzz/fuzz_check.hpp"
#include "runtime/layout.hpp"
#include "trimtack/runtime.h"
#include "trimtack/table.hpp"

namespace {

using namespace trimtack;

/// A table may claim any number of cloth vertices; a host has that many, a fuzzer need not.
constexpr std::uint32_t kMostVertices = 4096;

void check_pose(const tt_pose_f64& pose) {
  double norm = 0;
  for (const double q : pose.rotation) norm += q * q;
  require_law(std::fabs(norm - 1) < 1e-12, "unit quaternion");
  for (const double t : pose.translation) require_law(std::isfinite(t), "finite translation");
  require_law(pose.reserved == 0 && pose.flags < 32, "known flags");
}

void check_evaluation(const tt_table& table, const tt_info& info, std::uint64_t seed) {
  std::vector<double> cloth(3 * std::size_t{info.cloth_vertices});
  const double odd[] = {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(), 1e300, -1e18,
                        0};
  for (double& x : cloth) {
    seed = seed * 6364136223846793005ULL + 1442695040888963407ULL;
    x = (seed >> 60) == 0 ? odd[(seed >> 50) % 5] : static_cast<double>(static_cast<std::int64_t>(seed)) * 1e-16;
  }
  std::vector<float> floats(cloth.begin(), cloth.end());
  const std::size_t count = info.binding_count;
  std::vector<tt_pose_f64> poses(count), single(1);
  std::vector<tt_pose> small(count);
  require_law(tt_evaluate_f64(&table, cloth.data(), info.cloth_vertices, 0, 0, count, poses.data()) == TT_OK,
              "evaluates");
  require_law(tt_evaluate(&table, floats.data(), info.cloth_vertices, 0, 0, count, small.data()) == TT_OK, "evaluates");
  for (std::size_t i = 0; i < count; ++i) {
    check_pose(poses[i]);
    for (const float t : small[i].translation) require_law(std::isfinite(t), "finite translation in float");
    if (i % 7 != 0) continue;
    tt_evaluate_f64(&table, cloth.data(), info.cloth_vertices, 0, i, 1, single.data());
    require_law(std::memcmp(single.data(), &poses[i], sizeof(tt_pose_f64)) == 0, "one by one is the same bits");
  }
  tt_cloth_state state;
  require_law(tt_check_cloth_f64(&table, cloth.data(), info.cloth_vertices, 0, &state) == TT_OK, "checks");
  require_law(std::isfinite(state.scale) && state.mirrored <= TT_MIRRORED_UNKNOWN, "a sane state");
}

void check_bytes(const std::vector<std::byte>& bytes) {
  tt_table table;
  const tt_status status = tt_table_open(&table, bytes.data(), bytes.size());
  const Result<BindTable> decoded = decode(bytes);
  require_law(decoded.has_value() == (status == TT_OK), "decode accepts what the runtime accepts");
  if (status != TT_OK) {
    require_law(std::strlen(tt_status_text(status)) > 8 && !decoded.error().message.empty(), "a reason is given");
    require_law(tt_table_fault_offset(&table) <= bytes.size(), "the fault lies in the bytes");
    return;
  }
  const auto again = encode(*decoded, TT_TABLE_FORMAT_LATEST);
  require_law(again.has_value() && *again == bytes, "encode(decode(bytes)) is the bytes");
  tt_info info;
  require_law(tt_table_info(&table, &info) == TT_OK, "info");
  for (std::size_t i = 0; i < info.binding_count; ++i) {
    tt_binding binding;
    require_law(tt_table_binding(&table, i, &binding) == TT_OK, "binding");
    require_law(std::string(binding.name, binding.name_bytes) == decoded->bindings[i].name, "name");
  }
  if (info.cloth_vertices <= kMostVertices) check_evaluation(table, info, bytes.size());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::vector<std::byte> bytes(size);
  if (size != 0) std::memcpy(bytes.data(), data, size);
  check_bytes(bytes);
  if (size < sizeof(layout::Header) || size % 8 != 0) return 0;
  layout::Header header;
  std::memcpy(&header, bytes.data(), sizeof header);
  header.file_bytes = size;
  std::memcpy(bytes.data(), &header, sizeof header);
  header.checksum = layout::checksum(bytes.data(), size);
  std::memcpy(bytes.data(), &header, sizeof header);
  check_bytes(bytes);
  return 0;
}
