// SPDX-License-Identifier: MIT
/// Numbers in sentences, with a decimal point whatever the locale that the calling program has set.
#pragma once

#include <initializer_list>
#include <string>
#include <string_view>

namespace trimtack {

/// `format` with each "%.Ng" or "%.Nf" (N one digit) replaced by the next number as printf writes it in the "C"
/// locale, and "%%" by "%". @pre as many numbers as places.
std::string phrase(std::string_view format, std::initializer_list<double> numbers);

}  // namespace trimtack
