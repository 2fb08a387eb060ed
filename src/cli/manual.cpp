// SPDX-License-Identifier: MIT
#include "cli/manual.hpp"

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>
#include <string>

#include "cli/exit_codes.hpp"
#include "trimtack/version.h"

namespace trimtack::cli {
namespace {

std::vector<const CLI::App*> listed_commands(const CLI::App& app) {
  std::vector<const CLI::App*> commands;
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    if (!command->get_group().empty()) commands.push_back(command);
  }
  return commands;
}

/// Text for troff: backslashes and leading dots would be requests.
std::string troff(const std::string& text) {
  std::string out;
  for (const char ch : text) {
    if (ch == '\\' || ch == '-') out += '\\';
    out += ch;
    if (ch == '\n') out += "\\&";
  }
  return "\\&" + out;
}

std::string man_page(const CLI::App& app) {
  std::string page = ".TH TRIMTACK 1 \"\" \"trimtack " TT_VERSION_TEXT "\"\n.SH NAME\ntrimtack \\- " +
                     troff(app.get_description()) +
                     "\n.SH SYNOPSIS\n.B trimtack\n.I COMMAND\n[options]\n.SH COMMANDS\n";
  for (const CLI::App* command : listed_commands(app)) {
    page += ".SS " + command->get_name() + "\n" + troff(command->get_description()) + ".\n";
    for (const CLI::Option* option : command->get_options([](const CLI::Option*) { return true; })) {
      const std::string kind =
          option->get_expected_max() > 0 && !option->get_positional() ? " " + option->get_type_name() : "";
      page += ".TP\n.B " + troff(option->get_name(option->get_positional(), true) + kind) + "\n" +
              troff(option->get_description()) + "\n";
    }
    page += ".PP\n.nf\n" + troff(command->get_footer()) + "\n.fi\n";
  }
  return page + ".SH EXIT STATUS\n.nf\n" + troff(app.get_footer()) + "\n.fi\n";
}

std::string option_words(const CLI::App& command) {
  std::string words;
  for (const CLI::Option* option : command.get_options([](const CLI::Option*) { return true; })) {
    for (const std::string& name : option->get_lnames()) words += (words.empty() ? "--" : " --") + name;
    for (const std::string& name : option->get_snames()) words += (words.empty() ? "-" : " -") + name;
  }
  return words;
}

std::string command_words(const CLI::App& app) {
  std::string words;
  for (const CLI::App* command : listed_commands(app)) words += (words.empty() ? "" : " ") + command->get_name();
  return words;
}

std::string bash_completion(const CLI::App& app) {
  std::string text =
      "_trimtack() {\n  local word=${COMP_WORDS[COMP_CWORD]} words\n  if [ \"$COMP_CWORD\" -eq 1 ]; then\n"
      "    words='" +
      command_words(app) + " --help --version'\n  else\n    case ${COMP_WORDS[1]} in\n";
  for (const CLI::App* command : listed_commands(app)) {
    text += "      " + command->get_name() + ") words='" + option_words(*command) + "' ;;\n";
  }
  return text +
         "    esac\n    case $word in -*) ;; *) words= ;; esac\n  fi\n"
         "  COMPREPLY=($(compgen -W \"$words\" -- \"$word\"))\n"
         "  [ ${#COMPREPLY[@]} -gt 0 ] || COMPREPLY=($(compgen -f -- \"$word\"))\n}\n"
         "complete -o filenames -F _trimtack trimtack\n";
}

/// Quotes for single-quoted shell text.
std::string shell_quoted(const std::string& text) {
  std::string out;
  for (const char ch : text) out += ch == '\'' ? "'\\''" : std::string(1, ch);
  return out;
}

std::string zsh_completion(const CLI::App& app) {
  std::string text = "#compdef trimtack\n_trimtack() {\n  if (( CURRENT == 2 )); then\n    local -a commands=(\n";
  for (const CLI::App* command : listed_commands(app)) {
    std::string what = command->get_description();
    for (std::size_t at = 0; (at = what.find(':', at)) != std::string::npos; at += 2) what.insert(at, "\\");
    text += "      '" + command->get_name() + ":" + shell_quoted(what) + "'\n";
  }
  text += "    )\n    _describe command commands\n    return\n  fi\n  local -a options\n  case $words[2] in\n";
  for (const CLI::App* command : listed_commands(app)) {
    text += "    " + command->get_name() + ") options=(" + option_words(*command) + ") ;;\n";
  }
  return text +
         "  esac\n  if [[ $PREFIX == -* ]]; then\n    compadd -- $options\n  else\n    _files\n  fi\n}\n_trimtack "
         "\"$@\"\n";
}

std::string fish_completion(const CLI::App& app) {
  std::string text;
  for (const CLI::App* command : listed_commands(app)) {
    text += "complete -c trimtack -n __fish_use_subcommand -f -a " + command->get_name() + " -d '" +
            shell_quoted(command->get_description()) + "'\n";
    for (const CLI::Option* option : command->get_options([](const CLI::Option*) { return true; })) {
      for (const std::string& name : option->get_lnames()) {
        text += "complete -c trimtack -n '__fish_seen_subcommand_from " + command->get_name() + "' -l " + name +
                (option->get_expected_max() > 0 ? " -r" : "") + " -d '" + shell_quoted(option->get_description()) +
                "'\n";
      }
    }
  }
  return text;
}

}  // namespace

void add_manual_commands(CLI::App& app, std::function<int()>& run) {
  const CLI::App* const whole = &app;
  CLI::App* manual = app.add_subcommand("manual", "Print the man page")->group("");
  manual->final_callback([whole, &run] {
    run = [whole] { return std::fputs(man_page(*whole).c_str(), stdout) < 0 ? kCannotWrite : kDone; };
  });
  CLI::App* completion = app.add_subcommand("completion", "Print completion for a shell")->group("");
  const auto shell = std::make_shared<std::string>();
  completion->add_option("SHELL", *shell, "bash, zsh or fish")
      ->check(CLI::IsMember({"bash", "zsh", "fish"}))
      ->required();
  completion->final_callback([whole, shell, &run] {
    run = [whole, shell] {
      const std::string text = *shell == "bash" ? bash_completion(*whole)
                                                : (*shell == "zsh" ? zsh_completion(*whole) : fish_completion(*whole));
      return std::fputs(text.c_str(), stdout) < 0 ? kCannotWrite : kDone;
    };
  });
}

}  // namespace trimtack::cli
