// SPDX-License-Identifier: MIT
/// Where the writers of text files put what they have.
#pragma once

#include <functional>
#include <string>
#include <string_view>

#include "trimtack/result.hpp"

namespace trimtack {

/// Takes the next piece of a file; an error stops the writing.
using TextSink = std::function<Result<void>(std::string_view piece)>;

/// Puts all pieces into one string, which must outlive the sink.
inline TextSink sink_into(std::string& text) {
  return [&text](std::string_view piece) {
    text += piece;
    return Result<void>{};
  };
}

}  // namespace trimtack
