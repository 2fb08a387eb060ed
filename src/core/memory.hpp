// SPDX-License-Identifier: MIT
/// Large memory without the cost of touching it page by page. On a virtual machine the first touch of a 4 KiB page
/// can cost more than parsing the text in it; large pages, and buffers that are used again, avoid that.
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstring>
#include <memory>
#include <new>
#include <span>
#include <type_traits>
#include <vector>

namespace trimtack {

/// Asks for large pages for [start, start + bytes), and for the small ones of the first `used` bytes, at the ends or
/// where there are too few for a large page, in one call each. Only advice: nothing happens where the system has none.
void advise_large_pages(void* start, std::size_t bytes, std::size_t used);

/// Gets the pages of memory that is about to be filled in one call, which costs a fraction of a fault for each. Does
/// nothing for a few pages, or where the system cannot.
void touch_ahead(void* start, std::size_t bytes);

/// Frees what allocate_large() gave.
struct LargeDeleter {
  std::size_t alignment = 0;
  void operator()(char* bytes) const;
};
/// Uninitialised bytes, aligned for large pages when there are many, else for cache lines: a few that are aligned so
/// widely would come in pages of their own each time.
std::unique_ptr<char[], LargeDeleter> allocate_large(std::size_t bytes);

/// Capacity (in items) that makes the allocation a whole number of large pages, bookkeeping of malloc included.
std::size_t round_to_large_pages(std::size_t items, std::size_t item_bytes);

/// reserve() with large pages.
template <class T>
void reserve_large(std::vector<T>& list, std::size_t count) {
  if (count <= list.capacity()) return;
  list.reserve(round_to_large_pages(count, sizeof(T)));
  advise_large_pages(static_cast<void*>(list.data()), list.capacity() * sizeof(T), count * sizeof(T));
}

/// A list of `count` copies of `value`, with large pages.
template <class T>
std::vector<T> filled_large(std::size_t count, const T& value) {
  std::vector<T> list;
  reserve_large(list, count);
  list.assign(count, value);
  return list;
}

/// A list of the same items, with large pages.
template <class T>
std::vector<T> copied_large(std::span<const T> items) {
  std::vector<T> list;
  reserve_large(list, items.size());
  list.assign(items.begin(), items.end());
  return list;
}

/// Memory for items whose values do not outlast the next call; it is used again.
template <class T>
class Room {
 public:
  static_assert(std::is_trivially_copyable_v<T>);
  T* of(std::size_t count) {
    if (capacity_ < count) {
      bytes_.reset();
      capacity_ = round_to_large_pages(count, sizeof(T));
      bytes_ = allocate_large(capacity_ * sizeof(T));
    }
    return reinterpret_cast<T*>(bytes_.get());
  }
  std::size_t bytes() const { return capacity_ * sizeof(T); }

 private:
  std::unique_ptr<char[], LargeDeleter> bytes_;
  std::size_t capacity_ = 0;
};

/// A list that grows without initialising and keeps its room when cleared.
template <class T>
struct Buffer {
  static_assert(std::is_trivially_copyable_v<T>);
  struct Deleter {
    void operator()(T* list) const { ::operator delete(list); }
  };
  std::unique_ptr<T[], Deleter> items;
  std::size_t size = 0, capacity = 0;

  bool empty() const { return size == 0; }
  void clear() { size = 0; }
  const T* begin() const { return items.get(); }
  const T* end() const { return items.get() + size; }
  T& operator[](std::size_t i) { return items[i]; }
  const T& operator[](std::size_t i) const { return items[i]; }
  void push(const T& item) {
    if (size == capacity) grow(size + 1);
    items[size++] = item;
  }
  void pad(std::size_t count, const T& item) {
    if (count > capacity) grow(count);
    for (; size < count; ++size) items[size] = item;
  }
  void append(const T* first, std::size_t count) {
    if (size + count > capacity) grow(size + count);
    if (count != 0) std::memcpy(items.get() + size, first, count * sizeof(T));
    size += count;
  }
  /// Room for `count` more; the caller writes them and adds to `size`.
  T* room(std::size_t count) {
    if (size + count > capacity) grow(size + count);
    return items.get() + size;
  }
  void grow(std::size_t least) {
    const std::size_t wanted = std::max<std::size_t>({least, 2 * capacity, 256});
    void* const bytes = ::operator new(wanted * sizeof(T));
    touch_ahead(bytes, wanted * sizeof(T));
    std::unique_ptr<T[], Deleter> larger(static_cast<T*>(bytes));
    if (size != 0) std::memcpy(static_cast<void*>(larger.get()), items.get(), size * sizeof(T));
    items = std::move(larger);
    capacity = wanted;
  }
};

}  // namespace trimtack
