// SPDX-License-Identifier: MIT
/// Result<T>: a value, or the one reason why there is none. Member names follow std::expected.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <variant>

namespace trimtack {

enum class ErrorCode : std::uint8_t {
  Usage = 2,     ///< the request makes no sense (exit code 2)
  BadInput = 3,  ///< a file or a mesh cannot be used (exit code 3)
  CannotWrite = 4,
  Internal = 5
};

/// What went wrong, where, and what to do. `line` is 1-based, 0 when it does not apply.
struct Error {
  ErrorCode code = ErrorCode::Internal;
  std::string message;  ///< one sentence: what is wrong, then what to do
  std::string subject;  ///< the file or the element concerned
  std::uint64_t line = 0;
};

/// "FILE:LINE: message" in one line.
std::string to_text(const Error& error);

template <class T>
class [[nodiscard]] Result {
 public:
  using value_type = T;
  Result(T value) : state_(std::in_place_index<0>, std::move(value)) {}
  Result(Error error) : state_(std::in_place_index<1>, std::move(error)) {}
  bool has_value() const { return state_.index() == 0; }
  explicit operator bool() const { return has_value(); }
  T& value() { return std::get<0>(state_); }
  const T& value() const { return std::get<0>(state_); }
  const Error& error() const { return std::get<1>(state_); }
  T& operator*() { return std::get<0>(state_); }
  const T& operator*() const { return std::get<0>(state_); }
  T* operator->() { return &std::get<0>(state_); }
  const T* operator->() const { return &std::get<0>(state_); }

 private:
  std::variant<T, Error> state_;
};

template <>
class [[nodiscard]] Result<void> {
 public:
  Result() = default;
  Result(Error error) : failed_(true), error_(std::move(error)) {}
  bool has_value() const { return !failed_; }
  explicit operator bool() const { return has_value(); }
  const Error& error() const { return error_; }

 private:
  bool failed_ = false;
  Error error_;
};

}  // namespace trimtack
