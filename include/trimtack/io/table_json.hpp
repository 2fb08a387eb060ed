// SPDX-License-Identifier: MIT
/// bindings.json and bindings.csv.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

std::string write_table_json(const BindTable& table);
/// The same text in pieces of a megabyte or two, in order, for tables that need not be in memory as text.
/// @return the first failure of the sink. Threads: blocks of 256 bindings on the executor, the same bytes for any.
Result<void> write_table_json(const BindTable& table, const std::function<Result<void>(std::string_view)>& sink,
                              const Executor& executor = {});
Result<BindTable> read_table_json(std::string_view text, const std::string& file);
/// One row a binding with the anchor triangle form, for hosts that can only read that.
std::string write_table_csv(const BindTable& table);

}  // namespace trimtack
