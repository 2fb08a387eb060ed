// SPDX-License-Identifier: MIT
/// bindings.json and bindings.csv.
#pragma once

#include <string>
#include <string_view>

#include "trimtack/result.hpp"
#include "trimtack/table.hpp"

namespace trimtack {

std::string write_table_json(const BindTable& table);
Result<BindTable> read_table_json(std::string_view text, const std::string& file);
/// One row a binding with the anchor triangle form, for hosts that can only read that.
std::string write_table_csv(const BindTable& table);

}  // namespace trimtack
