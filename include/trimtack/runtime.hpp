// SPDX-License-Identifier: MIT
/// C++ face of runtime.h: spans instead of pointers and sizes. Header only; adds nothing to what is linked.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

#include "trimtack/runtime.h"

namespace trimtack::runtime {

using Status = tt_status;

/// One English sentence about a status, without a full stop.
inline std::string_view text(Status status) { return tt_status_text(status); }

/// A validated view of a binding table; a value that may be copied freely and used by any number of threads.
/// The bytes must outlive it and start at a multiple of 8.
class Table {
 public:
  /// Checks everything once. @param options  unit and up axis of the host; default: those of the table
  Status open(std::span<const std::byte> bytes, const tt_open_options& options = {}) {
    return tt_table_open_with(&table_, bytes.data(), bytes.size(), &options);
  }
  /// After a failed open: where in the bytes.
  std::uint64_t fault_offset() const { return tt_table_fault_offset(&table_); }
  /// Counts, unit and fingerprint; all zero when the table is not open.
  tt_info info() const {
    tt_info out{};
    tt_table_info(&table_, &out);
    return out;
  }
  std::size_t size() const { return info().binding_count; }
  Status binding(std::size_t index, tt_binding& out) const { return tt_table_binding(&table_, index, &out); }

  /// Poses of bindings [first, first + out.size()). @param positions  #V x 3, packed
  Status evaluate(std::span<const float> positions, std::span<tt_pose> out, std::size_t first = 0) const {
    return positions.size() % 3 != 0
               ? TT_WRONG_VERTEX_COUNT
               : tt_evaluate(&table_, positions.data(), positions.size() / 3, 0, first, out.size(), out.data());
  }
  Status evaluate(std::span<const double> positions, std::span<tt_pose_f64> out, std::size_t first = 0) const {
    return positions.size() % 3 != 0
               ? TT_WRONG_VERTEX_COUNT
               : tt_evaluate_f64(&table_, positions.data(), positions.size() / 3, 0, first, out.size(), out.data());
  }
  const tt_table* c_table() const { return &table_; }

 private:
  tt_table table_{};
};

/// Row-major 3x4 matrix of a pose.
inline std::array<float, 12> matrix(const tt_pose& pose) {
  std::array<float, 12> out{};
  tt_pose_matrix(&pose, out.data());
  return out;
}
inline std::array<double, 12> matrix(const tt_pose_f64& pose) {
  std::array<double, 12> out{};
  tt_pose_matrix_f64(&pose, out.data());
  return out;
}

}  // namespace trimtack::runtime
