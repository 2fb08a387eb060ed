// SPDX-License-Identifier: MIT
/// A list of texts that thousands of things have in common.
#pragma once

#include <cstddef>
#include <initializer_list>
#include <memory>
#include <string>
#include <utility>
#include <vector>

namespace trimtack {

/// Copies share the texts; one that gets another text has a list of its own from then on.
class SharedTexts {
 public:
  SharedTexts() = default;
  SharedTexts(std::initializer_list<std::string> texts) : SharedTexts(std::vector<std::string>(texts)) {}
  explicit SharedTexts(std::vector<std::string> texts)
      : texts_(texts.empty() ? nullptr : std::make_shared<const std::vector<std::string>>(std::move(texts))) {}

  const std::vector<std::string>& list() const {
    static const std::vector<std::string> none;
    return texts_ == nullptr ? none : *texts_;
  }
  operator const std::vector<std::string>&() const { return list(); }
  std::size_t size() const { return list().size(); }
  bool empty() const { return texts_ == nullptr; }
  const std::string& operator[](std::size_t i) const { return list()[i]; }
  auto begin() const { return list().begin(); }
  auto end() const { return list().end(); }

  /// Cost: linear in the list.
  void push_back(std::string text) {
    std::vector<std::string> own = list();
    own.push_back(std::move(text));
    *this = SharedTexts(std::move(own));
  }
  void swap(SharedTexts& other) noexcept { texts_.swap(other.texts_); }
  friend bool operator==(const SharedTexts& a, const SharedTexts& b) {
    return a.texts_ == b.texts_ || a.list() == b.list();
  }

 private:
  std::shared_ptr<const std::vector<std::string>> texts_;  // null when there are none
};

}  // namespace trimtack
