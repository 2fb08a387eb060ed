// SPDX-License-Identifier: MIT
/// Connected components of a mesh. Exporters write a component in one go, so what belongs to one is kept as runs.
#pragma once

#include <algorithm>
#include <iterator>
#include <span>
#include <vector>

#include "trimtack/mesh.hpp"
#include "trimtack/weld.hpp"

namespace trimtack {

/// Consecutive indices, the first of which has the place `at` in a list.
struct IndexRun {
  Index first = 0, at = 0;
};

/// Ascending indices as a list; a view of its runs. One run: constant time each; several: a search.
class IndexList {
 public:
  IndexList() = default;
  /// @param begin, end  places of the list within those of all runs
  IndexList(std::span<const IndexRun> runs, Index begin, Index end)
      : runs_(runs.data()), count_(runs.size()), begin_(begin), end_(end) {}
  std::size_t size() const { return end_ - begin_; }
  bool empty() const { return end_ == begin_; }
  Index front() const { return runs_->first; }
  Index back() const { return runs_[count_ - 1].first + (end_ - 1 - runs_[count_ - 1].at); }
  bool is_one_run() const { return count_ == 1; }
  Index operator[](std::size_t i) const {
    const Index at = begin_ + static_cast<Index>(i);
    const IndexRun* run = runs_;
    if (count_ != 1)
      run =
          std::upper_bound(runs_, runs_ + count_, at, [](Index place, const IndexRun& r) { return place < r.at; }) - 1;
    return run->first + (at - run->at);
  }
  /// fn(first, end) for each run of indices.
  template <class Fn>
  void each_run(Fn&& fn) const {
    for (std::size_t r = 0; r < count_; ++r) fn(runs_[r].first, end_of_run(r));
  }
  std::size_t run_count() const { return count_; }
  Index first_of_run(std::size_t r) const { return runs_[r].first; }
  Index end_of_run(std::size_t r) const {
    return runs_[r].first + ((r + 1 < count_ ? runs_[r + 1].at : end_) - runs_[r].at);
  }

  class Iterator {
   public:
    using iterator_category = std::forward_iterator_tag;
    using value_type = Index;
    using difference_type = std::ptrdiff_t;
    using pointer = const Index*;
    using reference = Index;
    Iterator() = default;
    Iterator(const IndexRun* run, const IndexRun* last, Index at) : run_(run), last_(last), at_(at) {}
    Index operator*() const { return run_->first + (at_ - run_->at); }
    Iterator& operator++() {
      ++at_;
      if (run_ != last_ && at_ == run_[1].at) ++run_;
      return *this;
    }
    Iterator operator++(int) {
      const Iterator before = *this;
      ++*this;
      return before;
    }
    friend bool operator==(const Iterator& a, const Iterator& b) { return a.at_ == b.at_; }

   private:
    const IndexRun* run_ = nullptr;
    const IndexRun* last_ = nullptr;
    Index at_ = 0;
  };
  Iterator begin() const { return {runs_, runs_ + count_ - (count_ == 0 ? 0 : 1), begin_}; }
  Iterator end() const { return {nullptr, nullptr, end_}; }

 private:
  const IndexRun* runs_ = nullptr;
  std::size_t count_ = 0;
  Index begin_ = 0, end_ = 0;
};

/// Lists of ascending indices, one per component.
struct IndexLists {
  std::vector<IndexRun> runs;         ///< component by component
  std::vector<Index> run_offsets{0};  ///< component c owns runs[run_offsets[c], run_offsets[c + 1])
  std::vector<Index> offsets{0};      ///< places: component c owns [offsets[c], offsets[c + 1])
  IndexList of(Index c) const {
    return {{runs.data() + run_offsets[c], run_offsets[c + 1] - run_offsets[c]}, offsets[c], offsets[c + 1]};
  }
};

/// Components are numbered by the order of their first faces.
struct ComponentMap {
  std::vector<Index> of_face;    ///< #F, kNone for a face without corners
  std::vector<Index> of_vertex;  ///< #V, kNone for one that no face uses
  IndexLists faces;
  IndexLists vertices;  ///< the first ones at their places
  IndexLists later;     ///< those that coincide with one of these
  Index count() const { return static_cast<Index>(faces.offsets.size() - 1); }
  IndexList faces_of(Index c) const { return faces.of(c); }
  IndexList vertices_of(Index c) const { return vertices.of(c); }
  IndexList later_of(Index c) const { return later.of(c); }
};

/// Maximal sets of faces connected through shared places.
/// Cost: O(#V + #corners), almost linear (union-find); 8 bytes a vertex and face. Threads: safe on the same inputs.
ComponentMap find_components(const FaceView& faces, const WeldMap& welded);

}  // namespace trimtack
