// SPDX-License-Identifier: MIT
/// bindings.json and bindings.csv.
#pragma once

#include <string>
#include <string_view>

#include "trimtack/io/text_sink.hpp"
#include "trimtack/parallel.hpp"
#include "trimtack/result.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

/// The text in pieces of some ten KB, in order, one at a time, from any thread of the executor; the same bytes for any.
/// @error the first of the sink
Result<void> write_table_json(const BindTable& table, const TextSink& sink, const Executor& executor = {});
/// The same as one string.
std::string write_table_json(const BindTable& table);
Result<BindTable> read_table_json(std::string_view text, const std::string& file);
/// One row a binding with the anchor triangle form, for hosts that can only read that. In pieces as the above.
Result<void> write_table_csv(const BindTable& table, const TextSink& sink, const Executor& executor = {});
std::string write_table_csv(const BindTable& table);

}  // namespace trimtack
