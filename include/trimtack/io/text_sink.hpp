// SPDX-License-Identifier: MIT
/// Where the writers of text files put what they have.
#pragma once

#include <functional>
#include <string_view>

#include "trimtack/result.hpp"

namespace trimtack {

/// Takes the next piece of a file; an error stops the writing.
using TextSink = std::function<Result<void>(std::string_view piece)>;

}  // namespace trimtack
