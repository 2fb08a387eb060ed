// SPDX-License-Identifier: MIT
// Output folders: whole sets only, whatever happens in between.
#include "trimtack/io/file_set.hpp"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <random>
#include <set>
#include <thread>

#include "io/manifest.hpp"

namespace fs = std::filesystem;
using namespace trimtack;

namespace {

/// A fresh folder that goes with the test.
struct Scratch {
  fs::path path;
  Scratch() {
    std::string name = (fs::temp_directory_path() / "file_set_XXXXXX").string();
    path = ::mkdtemp(name.data());
  }
  ~Scratch() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
};

std::string text_of(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

void put(const fs::path& path, const std::string& text) {
  fs::create_directories(path.parent_path());
  std::ofstream(path, std::ios::binary) << text;
}

std::set<std::string> names_in(const fs::path& folder) {
  std::set<std::string> names;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    if (!entry.is_directory()) names.insert(fs::relative(entry.path(), folder).string());
  }
  return names;
}

Result<void> write_all(const fs::path& folder, const std::vector<std::pair<std::string, std::string>>& files) {
  Result<FileSet> set = FileSet::open(folder);
  if (!set) return set.error();
  for (const auto& [name, text] : files) {
    if (auto written = set->write(name, text); !written) return written;
  }
  return set->commit();
}

}  // namespace

TEST_CASE("crc64 gives the published check value of CRC-64/XZ", "[file_set]") {
  const std::string text = "123456789";
  const auto bytes = std::as_bytes(std::span(text));
  CHECK(crc64(bytes) == 0x995DC9BBDF1939FAULL);
  CHECK(crc64({}) == 0);
  for (std::size_t cut = 0; cut <= 9; ++cut) CHECK(crc64(bytes.subspan(cut), crc64(bytes.first(cut))) == crc64(bytes));
}

TEST_CASE("the checksum of a text, taken many bytes a step, is that of its bytes one by one", "[file_set]") {
  std::mt19937_64 random(13);
  std::vector<std::byte> bytes(700);
  for (std::byte& b : bytes) b = static_cast<std::byte>(random());
  for (std::size_t length = 0; length < 600; ++length) {
    const std::span<const std::byte> text = std::span(bytes).subspan(random() % 100, length);
    const std::uint64_t before = length % 3 == 0 ? 0 : random();
    std::uint64_t singly = before;
    for (const std::byte& b : text) singly = crc64({&b, 1}, singly);
    REQUIRE(crc64(text, before) == singly);
  }
}

TEST_CASE("the checksum of long texts, taken in lanes, is that of their pieces", "[file_set]") {
  std::mt19937_64 random(11);
  std::vector<std::byte> bytes(300'001);
  for (std::byte& b : bytes) b = static_cast<std::byte>(random());
  const std::span<const std::byte> all(bytes);
  for (const std::size_t length : {65'535U, 65'536U, 65'537U, 131'072U, 196'613U, 300'001U}) {
    std::uint64_t in_pieces = 0;
    for (std::size_t at = 0; at < length; at += 1000)
      in_pieces = crc64(all.subspan(at, std::min<std::size_t>(1000, length - at)), in_pieces);
    CHECK(crc64(all.first(length)) == in_pieces);
  }
}

TEST_CASE("files written by several threads at a time are whole and listed in the order they were started",
          "[file_set]") {
  const Scratch scratch;
  Result<FileSet> set = FileSet::open(scratch.path / "out");
  REQUIRE(set);
  constexpr std::size_t kFiles = 40;  // more than are kept open
  const auto name_of = [](std::size_t i) { return "part_" + std::to_string(kFiles - i) + ".txt"; };
  const auto line_of = [](std::size_t i, int k) { return std::to_string(1000 * i) + " " + std::to_string(k) + "\n"; };
  for (std::size_t i = 0; i < kFiles; ++i) REQUIRE(set->start(name_of(i)));
  CHECK_FALSE(set->start(name_of(0)));
  std::array<bool, 4> good{};
  std::vector<std::thread> threads;
  for (std::size_t t = 0; t < good.size(); ++t)
    threads.emplace_back([&, t] {
      bool all = true;
      for (int k = 0; k < 50; ++k)
        for (std::size_t i = t; i < kFiles; i += good.size()) all = all && set->append(name_of(i), line_of(i, k));
      good[t] = all;
    });
  for (std::thread& thread : threads) thread.join();
  CHECK(good == std::array<bool, 4>{true, true, true, true});
  for (std::size_t i = 0; i < kFiles; ++i) CHECK(set->entries()[i].name == name_of(i));
  REQUIRE(set->commit());
  for (std::size_t i = 0; i < kFiles; ++i) {
    std::string expected;
    for (int k = 0; k < 50; ++k) expected += line_of(i, k);
    CHECK(text_of(scratch.path / "out" / name_of(i)) == expected);
  }
  const auto checked = verify_folder(scratch.path / "out");
  REQUIRE(checked);
  for (const CheckedFile& file : *checked) CHECK(file.state == FileState::Whole);
}

TEST_CASE("a committed set is in its folder, with a manifest that verifies", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  REQUIRE(write_all(out, {{"a.obj", "one"}, {"sub/b.obj", "two"}, {"empty", ""}}));
  CHECK(names_in(out) == std::set<std::string>{"a.obj", "sub/b.obj", "empty", kManifestName});
  CHECK(text_of(out / "sub/b.obj") == "two");
  CHECK(names_in(scratch.path).size() == 4);  // nothing beside it
  const auto files = verify_folder(out);
  REQUIRE(files);
  REQUIRE(files->size() == 3);
  for (const CheckedFile& file : *files) CHECK(file.state == FileState::Whole);
}

TEST_CASE("an uncommitted set leaves no trace", "[file_set]") {
  const Scratch scratch;
  put(scratch.path / "out/keep", "old");
  {
    Result<FileSet> set = FileSet::open(scratch.path / "out");
    REQUIRE(set);
    REQUIRE(set->write("keep", std::string_view("new")));
  }
  CHECK(names_in(scratch.path) == std::set<std::string>{"out/keep"});
  CHECK(text_of(scratch.path / "out/keep") == "old");
  {
    Result<FileSet> set = FileSet::open(scratch.path / "never");
    REQUIRE(set);
  }
  CHECK_FALSE(fs::exists(scratch.path / "never"));
}

TEST_CASE("files that the run does not write are left alone and stay in the manifest", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  REQUIRE(write_all(out, {{"a", "1"}, {"b", "1"}}));
  put(out / "notes/mine.txt", "the author's");
  fs::create_symlink("nowhere", out / "link");
  REQUIRE(write_all(out, {{"b", "2"}, {"c", "2"}}));
  CHECK(text_of(out / "a") == "1");
  CHECK(text_of(out / "b") == "2");
  CHECK(text_of(out / "notes/mine.txt") == "the author's");
  CHECK(fs::is_symlink(out / "link"));
  const auto files = verify_folder(out);
  REQUIRE(files);
  CHECK(files->size() == 3);
}

TEST_CASE("a file that no run wrote is not replaced, unless its bytes are the same", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  put(out / "cloth.obj", "the author's export");
  put(out / "coat.mtl", "newmtl a");
  Result<void> done = write_all(out, {{"cloth.obj", "1"}, {"coat.mtl", "newmtl a"}});
  REQUIRE_FALSE(done);
  CHECK(done.error().code == ErrorCode::CannotWrite);
  CHECK(done.error().subject == (out / "cloth.obj").string());
  CHECK_THAT(done.error().message, Catch::Contains("not written by trimtack; name another output folder"));
  CHECK(names_in(out) == std::set<std::string>{"cloth.obj", "coat.mtl"});
  CHECK(text_of(out / "cloth.obj") == "the author's export");
  REQUIRE(write_all(out, {{"trims.obj", "1"}, {"coat.mtl", "newmtl a"}}));
  put(out / "trims.obj", "edited by hand");  // but written by a run
  REQUIRE(write_all(out, {{"trims.obj", "2"}}));
  put(out / kManifestName, "damaged");
  REQUIRE(write_all(out, {{"trims.obj", "3"}}));
}

TEST_CASE("retired files of earlier runs go, edited ones stay", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  const fs::path before = fs::current_path();
  const bool by_journal = GENERATE(false, true);
  REQUIRE(write_all(out, {{"p/1", "1"}, {"p/2", "2"}, {"q/1", "3"}, {"table", "4"}}));
  put(out / "p/2", "edited by hand");
  put(out / "q/own", "the author's");
  if (by_journal) fs::current_path(out);
  Result<FileSet> set = FileSet::open(out);
  REQUIRE(set);
  set->retire("p/");
  set->retire("q/");
  set->retire("table");
  REQUIRE(set->write("new", std::string_view("5")));
  const auto committed = set->commit();
  fs::current_path(before);
  REQUIRE(committed);
  CHECK(names_in(out) == std::set<std::string>{"p/2", "q/own", "new", kManifestName});
}

TEST_CASE("an executor that stops the work leaves the old set, or the new one once it is in place", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  REQUIRE(write_all(out, {{"a", "old a"}, {"b", "old b"}}));
  struct Stopped {};
  struct Patience {
    int lists;  ///< of tasks that are worked on before the work is stopped
  };
  const auto run = [](void* self, std::size_t count, Executor::Task task, void* context) {
    if (static_cast<Patience*>(self)->lists-- == 0) throw Stopped{};
    for (std::size_t i = 0; i < count; ++i) task(context, i);
  };
  const auto commit_with = [&](Patience patience) {
    Result<FileSet> set = FileSet::open(out);
    REQUIRE(set);
    REQUIRE(set->write("a", std::string_view("new a")));
    REQUIRE(set->write("b", std::string_view("new b")));
    return bool(set->commit({run, &patience, 2}));
  };
  for (const int lists : {0, 1}) {  // before it is flushed, and meanwhile
    CHECK_THROWS_AS(commit_with({lists}), Stopped);
    CHECK(text_of(out / "a") == "old a");
    CHECK(text_of(out / "b") == "old b");
  }
  CHECK(commit_with({2}));  // while the old set is removed
  CHECK(text_of(out / "a") == "new a");
  CHECK(text_of(out / "b") == "new b");
  CHECK(names_in(scratch.path) == std::set<std::string>{"out/a", "out/b", std::string("out/") + kManifestName});
}

TEST_CASE("streams may be appended and patched, and their checksums hold", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  Result<FileSet> set = FileSet::open(out);
  REQUIRE(set);
  for (int round = 0; round < 3; ++round) {
    for (int i = 0; i < 50; ++i) REQUIRE(set->append("s" + std::to_string(i), "0123456789"));
  }
  REQUIRE(set->patch("s7", 8, "abcd"));
  CHECK_FALSE(set->patch("s7", 28, "abcd"));
  CHECK_FALSE(set->patch("none", 0, "a"));
  CHECK(set->entries()[7].bytes == 30);
  REQUIRE(set->commit());
  CHECK(text_of(out / "s7") == "01234567abcd234567890123456789");
  const auto files = verify_folder(out);
  REQUIRE(files);
  CHECK(files->size() == 50);
  for (const CheckedFile& file : *files) CHECK(file.state == FileState::Whole);
}

TEST_CASE("files that go to the disk meanwhile may still be changed, and others come", "[file_set]") {
  const Scratch scratch;
  const fs::path folder = scratch.path / "out";
  const std::string long_text(std::size_t{3} << 20U, 'x');
  for (const bool commit : {true, false}) {
    Result<FileSet> set = FileSet::open(folder);
    REQUIRE(set);
    REQUIRE(set->write("whole.txt", long_text));
    REQUIRE(set->append("parts/stream.txt", long_text));
    set->flush_meanwhile();
    REQUIRE(set->append("parts/stream.txt", "and more"));
    REQUIRE(set->patch("whole.txt", 1, "yz"));
    REQUIRE(set->write("late.txt", "late"));
    set->flush_meanwhile();  // the first is enough
    if (commit) REQUIRE(set->commit());
  }
  CHECK(text_of(folder / "parts" / "stream.txt") == long_text + "and more");
  CHECK(text_of(folder / "whole.txt").substr(0, 4) == "xyzx");
  const auto checked = verify_folder(folder);
  REQUIRE(checked);
  CHECK(checked->size() == 3);
  for (const CheckedFile& file : *checked) CHECK(file.state == FileState::Whole);
  CHECK(names_in(scratch.path).size() == 4);  // with the manifest; the set that was not committed left nothing
}

TEST_CASE("the checksum of a patched file is found from the difference alone", "[file_set]") {
  INFO("seed 43");
  std::mt19937 random(43);
  for (int round = 0; round < 300; ++round) {
    std::string text(1 + random() % 5000, '\0');
    for (char& c : text) c = static_cast<char>(random());
    const auto crc_of = [](const std::string& bytes) { return crc64(std::as_bytes(std::span(bytes))); };
    const std::size_t at = random() % text.size(), length = random() % (text.size() - at + 1);
    std::string difference(length, '\0');
    for (char& c : difference) c = static_cast<char>(random());
    const std::uint64_t before = crc_of(text);
    for (std::size_t i = 0; i < length; ++i) text[at + i] = static_cast<char>(text[at + i] ^ difference[i]);
    REQUIRE(crc64_patched(before, std::as_bytes(std::span(difference)), text.size() - at - length) == crc_of(text));
  }
}

TEST_CASE("a file may be patched, appended and patched again, also when many are open", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  Result<FileSet> set = FileSet::open(out);
  REQUIRE(set);
  std::vector<std::string> expected(40, "0123456789");
  for (int i = 0; i < 40; ++i) REQUIRE(set->append("s" + std::to_string(i), "0123456789"));
  for (int round = 0; round < 3; ++round) {
    for (std::size_t i = 0; i < 40; ++i) {
      REQUIRE(set->patch("s" + std::to_string(i), i % 8, "ab"));
      REQUIRE(set->append("s" + std::to_string(i), "xyz"));
      expected[i].replace(i % 8, 2, "ab");
      expected[i] += "xyz";
    }
  }
  REQUIRE(set->commit());
  for (std::size_t i = 0; i < 40; ++i) CHECK(text_of(out / ("s" + std::to_string(i))) == expected[i]);
  const auto files = verify_folder(out);
  REQUIRE(files);
  for (const CheckedFile& file : *files) CHECK(file.state == FileState::Whole);
}

TEST_CASE("verify tells edited and missing files by name", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  REQUIRE(write_all(out, {{"a", "same length"}, {"b", "x"}, {"c", "y"}}));
  put(out / "a", "Same length");
  fs::remove(out / "b");
  const auto files = verify_folder(out);
  REQUIRE(files);
  CHECK((*files)[0].state == FileState::Edited);
  CHECK((*files)[1].state == FileState::Missing);
  CHECK((*files)[2].state == FileState::Whole);
  for (const char* broken :
       {"", "{", "[]", "{\"format\":\"trimtack-manifest\",\"version\":2,\"files\":[]}",
        "{\"format\":\"trimtack-manifest\",\"version\":1,\"files\":[{\"name\":\"../x\",\"bytes\":1,"
        "\"checksum\":\"crc64:0000000000000000\"}]}"}) {
    put(out / kManifestName, broken);
    const auto refused = verify_folder(out);
    REQUIRE_FALSE(refused);
    CHECK(refused.error().code == ErrorCode::BadInput);
  }
  put(out / kManifestName, std::string(100'000, '['));
  CHECK_FALSE(verify_folder(out));
}

TEST_CASE("places that cannot be written are refused with a reason", "[file_set]") {
  const Scratch scratch;
  put(scratch.path / "file", "x");
  const auto refused = [&](const fs::path& path, const std::string& word) {
    const Result<FileSet> set = FileSet::open(path);
    REQUIRE_FALSE(set);
    CHECK(set.error().code == ErrorCode::CannotWrite);
    CHECK_THAT(to_text(set.error()), Catch::Contains(word) && Catch::Contains(path.string()));
  };
  refused(scratch.path / "file", "is a file");
  refused(scratch.path / "file/out", "is a file, not a folder");
  refused(scratch.path / "none/out", "does not exist");
  refused(scratch.path / std::string(300, 'n'), "too long");
  fs::create_symlink("nowhere", scratch.path / "dangling");
  refused(scratch.path / "dangling", "link to nothing");
  if (::geteuid() != 0) {
    fs::create_directory(scratch.path / "closed");
    fs::permissions(scratch.path / "closed", fs::perms::owner_read | fs::perms::owner_exec);
    refused(scratch.path / "closed", "no permission");
    refused(scratch.path / "closed/out", "no permission");
  }
}

TEST_CASE("a file cannot take a folder's place, and nothing changes then", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  put(out / "sub/mine", "x");
  put(out / "flat", "y");
  for (const char* name : {"sub", "flat/inner"}) {
    Result<FileSet> set = FileSet::open(out);
    REQUIRE(set);
    REQUIRE(set->write("first", std::string_view("1")));
    REQUIRE(set->write(name, std::string_view("2")));
    const auto committed = set->commit();
    REQUIRE_FALSE(committed);
    CHECK(committed.error().code == ErrorCode::CannotWrite);
  }
  CHECK(names_in(scratch.path) == std::set<std::string>{"out/sub/mine", "out/flat"});
}

TEST_CASE("names that leave the folder, or come twice, are refused", "[file_set]") {
  const Scratch scratch;
  Result<FileSet> set = FileSet::open(scratch.path / "out");
  REQUIRE(set);
  for (const char* name : {"", "/etc/x", "../x", "a/../x", "a//b", "./a", "a/", "line\nbreak", kManifestName}) {
    CHECK_FALSE(set->write(name, std::string_view("x")));
  }
  REQUIRE(set->write("a", std::string_view("x")));
  CHECK_FALSE(set->write("a", std::string_view("x")));
}

TEST_CASE("two runs on one folder: the second is told so", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  Result<FileSet> first = FileSet::open(out);
  REQUIRE(first);
  const Result<FileSet> second = FileSet::open(out);
  REQUIRE_FALSE(second);
  CHECK(second.error().code == ErrorCode::CannotWrite);
  CHECK_THAT(second.error().message, Catch::Contains("another trimtack run"));
  REQUIRE(FileSet::open(scratch.path / "other"));
  REQUIRE(first->write("a", std::string_view("x")));
  REQUIRE(first->commit());
  REQUIRE(FileSet::open(out));
}

TEST_CASE("a full disk is an error and keeps the old set", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  REQUIRE(write_all(out, {{"a", "old"}}));
  const pid_t child = ::fork();
  if (child == 0) {  // a limit on file sizes stands for the full disk
    ::signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{4096, 4096};
    ::setrlimit(RLIMIT_FSIZE, &limit);
    const auto written = write_all(out, {{"a", std::string(10'000, 'n')}});
    ::_exit(!written && written.error().code == ErrorCode::CannotWrite ? 0 : 1);
  }
  int status = -1;
  REQUIRE(::waitpid(child, &status, 0) == child);
  CHECK(status == 0);
  CHECK(text_of(out / "a") == "old");
  CHECK(names_in(scratch.path).size() == 2);
}

namespace {

constexpr int kFiles = 12;

/// Writes generation after generation until killed.
[[noreturn]] void write_for_ever(const fs::path& out) {
  for (int generation = 1;; ++generation) {
    Result<FileSet> set = FileSet::open(out);
    if (!set) ::_exit(1);
    for (int i = 0; i < kFiles; ++i) {
      const std::string text(2000 + 100 * static_cast<std::size_t>(i), static_cast<char>('a' + generation % 26));
      if (!set->write((i % 2 != 0 ? "sub/f" : "f") + std::to_string(i), text)) ::_exit(2);
    }
    // Files of this generation alone, which the next one retires.
    set->retire("only/");
    const std::string letter(1, static_cast<char>('a' + generation % 26));
    for (int i = 0; i < kFiles; ++i) {
      if (!set->write("only/" + letter + std::to_string(i), letter)) ::_exit(4);
    }
    if (!set->commit()) ::_exit(3);
  }
}

/// All files of one generation, complete? An untouched folder counts too.
bool is_one_generation(const fs::path& out) {
  if (!fs::exists(out)) return true;
  std::set<char> letters;
  for (int i = 0; i < kFiles; ++i) {
    const std::string text = text_of(out / ((i % 2 != 0 ? "sub/f" : "f") + std::to_string(i)));
    if (text.size() != 2000 + 100 * static_cast<std::size_t>(i)) return false;
    letters.insert(text.begin(), text.end());
  }
  int only = 0;
  if (fs::exists(out / "only")) {
    for (const auto& entry : fs::directory_iterator(out / "only")) {
      letters.insert(entry.path().filename().string()[0]);
      ++only;
    }
  }
  return letters.size() == 1 && (only == 0 || only == kFiles);
}

void kill_at_random_moments(bool by_journal) {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  const unsigned seed = by_journal ? 42 : 41;
  INFO("seed " << seed);
  std::mt19937 random(seed);
  if (by_journal) {
    std::vector<std::pair<std::string, std::string>> first{{"other", "x"}};
    for (int i = 0; i < kFiles; ++i) {
      first.emplace_back((i % 2 != 0 ? "sub/f" : "f") + std::to_string(i),
                         std::string(2000 + 100 * static_cast<std::size_t>(i), 'a'));
    }
    REQUIRE(write_all(out, first));
  }
  for (int kill = 0; kill < 50; ++kill) {
    const pid_t child = ::fork();
    if (child == 0) {
      if (by_journal) fs::current_path(out);
      write_for_ever(out);
    }
    std::this_thread::sleep_for(std::chrono::microseconds(std::uniform_int_distribution<int>(0, 20'000)(random)));
    ::kill(child, SIGKILL);
    int status = 0;
    REQUIRE(::waitpid(child, &status, 0) == child);
    REQUIRE(WIFSIGNALED(status));
    if (by_journal) {
      const Result<ReadLock> lock = ReadLock::open(out);  // what every reading command does first
      REQUIRE(lock);
    }
    INFO("kill number " << kill);
    REQUIRE(is_one_generation(out));
    if (fs::exists(out / kManifestName)) {
      const auto files = verify_folder(out);
      REQUIRE(files);
      for (const CheckedFile& file : *files) REQUIRE(file.state == FileState::Whole);
    }
  }
  REQUIRE(write_all(out, {{"last", "x"}}));
  for (const auto& entry : fs::directory_iterator(scratch.path)) CHECK(entry.path() == out);
}

}  // namespace

TEST_CASE("killed at 50 random moments, the folder holds one whole set at once", "[file_set]") {
  kill_at_random_moments(false);
}

TEST_CASE("killed at 50 random moments inside the working directory, the next reader finds one whole set",
          "[file_set]") {
  kill_at_random_moments(true);
}

TEST_CASE("readers never see two sets mixed", "[file_set]") {
  const Scratch scratch;
  const fs::path out = scratch.path / "out";
  const bool by_journal = GENERATE(false, true);
  if (by_journal) REQUIRE(write_all(out, {{"other", "x"}}));
  const pid_t child = ::fork();
  if (child == 0) {
    if (by_journal) fs::current_path(out);
    write_for_ever(out);
  }
  while (!fs::exists(out / "f0")) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  int good = 0;
  for (int i = 0; i < 100; ++i) {
    const Result<ReadLock> lock = ReadLock::open(out);
    REQUIRE(lock);
    good += is_one_generation(out) ? 1 : 0;
  }
  ::kill(child, SIGKILL);
  int status = 0;
  ::waitpid(child, &status, 0);
  CHECK(good == 100);
}

TEST_CASE("read_file and write_file say what is wrong", "[file_set]") {
  const Scratch scratch;
  REQUIRE(write_file(scratch.path / "a", "text"));
  const auto text = read_file(scratch.path / "a");
  REQUIRE(text);
  CHECK(*text == "text");
  CHECK(read_file(scratch.path / "none").error().code == ErrorCode::BadInput);
  CHECK_THAT(read_file(scratch.path).error().message, Catch::Contains("folder"));
  CHECK_THAT(read_file(scratch.path / "a", 3).error().message, Catch::Contains("limit"));
  CHECK(read_file(scratch.path / "a", 4));
  CHECK(write_file(scratch.path, "x").error().code == ErrorCode::CannotWrite);
  CHECK(write_file(scratch.path / "none/a", "x").error().code == ErrorCode::CannotWrite);
  CHECK(names_in(scratch.path) == std::set<std::string>{"a"});
}

TEST_CASE("write_file goes through links, into pipes, and takes the longest names", "[file_set]") {
  const Scratch scratch;
  REQUIRE(write_file(scratch.path / "a", "1"));
  fs::create_symlink("a", scratch.path / "link");
  REQUIRE(write_file(scratch.path / "link", "2"));
  CHECK(fs::is_symlink(scratch.path / "link"));
  CHECK(text_of(scratch.path / "a") == "2");
  fs::create_symlink("nowhere", scratch.path / "dangling");
  CHECK_FALSE(write_file(scratch.path / "dangling", "3"));
  const fs::path pipe = scratch.path / "pipe";
  REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
  const int reader = ::open(pipe.c_str(), O_RDONLY | O_NONBLOCK);
  REQUIRE(write_file(pipe, "through"));
  std::array<char, 16> got{};
  CHECK(::read(reader, got.data(), got.size()) == 7);
  ::close(reader);
  CHECK(fs::is_fifo(pipe));
  const std::string longest(255, 'n');
  REQUIRE(write_file(scratch.path / longest, "4"));
  CHECK(text_of(scratch.path / longest) == "4");
}
