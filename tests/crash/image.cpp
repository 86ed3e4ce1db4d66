#include "tests/crash/image.h"

#include <algorithm>
#include <filesystem>
#include <fstream>

namespace neap::crash {
namespace {

constexpr std::size_t kSector = 512;

void put(std::string& file, std::size_t at, std::string_view bytes) {
  if (file.size() < at + bytes.size()) file.resize(at + bytes.size(), '\0');
  std::copy(bytes.begin(), bytes.end(), file.begin() + static_cast<std::ptrdiff_t>(at));
}

std::uint64_t mix(std::uint64_t hash, std::uint64_t value) {
  return (hash ^ value) * 0x100000001b3ULL;
}

void change(std::string& file, const Op& op) {
  if (op.kind == Op::Kind::write)
    put(file, static_cast<std::size_t>(op.at), op.bytes);
  else
    file.resize(static_cast<std::size_t>(op.at), '\0');
}

void change_folder(std::map<std::string, int>& folder, const Op& op) {
  if (op.kind == Op::Kind::create) {
    folder[op.name] = op.file;
  } else if (op.kind == Op::Kind::rename) {
    folder.erase(op.name);
    folder[op.to] = op.file;
  } else {
    folder.erase(op.name);
  }
}

std::string noise_of(std::size_t size, Draw& draw) {
  std::string bytes(size, '\0');
  for (char& byte : bytes) byte = static_cast<char>(draw.next());
  return bytes;
}

}  // namespace

// What is left of one operation: a part of a write, or a new size.
struct Platter::Piece {
  std::size_t op = 0;
  std::size_t from = 0, to = 0;  // bytes of the write
  bool noise = false;            // not its bytes, but noise in their place
};

void lay_out(const Image& image, const std::string& folder, std::uint64_t noise) {
  namespace fs = std::filesystem;
  for (const auto& entry : fs::directory_iterator(folder)) fs::remove_all(entry.path());
  for (const auto& [name, bytes] : image.files) {
    std::ofstream file(folder + "/" + name, std::ios::binary);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  }
  if (noise == 0) return;
  Draw draw(noise);
  std::ofstream(folder + "/journal.db-shm", std::ios::binary) << noise_of(32768, draw);
}

Platter::Platter(const std::vector<Disk::File>& before, const std::vector<Op>& ops) : ops_(ops) {
  for (std::size_t i = 0; i < before.size(); ++i) {
    files_[static_cast<int>(i)] = {before[i].bytes, before[i].bytes, {}};
    folder_[before[i].name] = static_cast<int>(i);
  }
}

// `lost_by`: a sync that failed; what reached the disk before it did is a matter of luck, and
// nothing of it is written again.
void Platter::settle(File& file, const Op* lost_by) {
  Draw draw(lost_by == nullptr ? 0
                               : static_cast<std::uint64_t>(lost_by->tick) + file.pending.size());
  for (const std::size_t i : file.pending) {
    const Op& op = ops_[i];
    if (lost_by != nullptr && op.kind == Op::Kind::write && draw.chance(0.7)) continue;
    change(file.stored, op);
  }
  file.pending.clear();
  ++settled_;
}

void Platter::advance(std::size_t cut) {
  for (; cut_ < cut; ++cut_) {
    const Op& op = ops_[cut_];
    switch (op.kind) {
      case Op::Kind::write:
      case Op::Kind::resize:
        files_[op.file].pending.push_back(cut_);
        change(files_[op.file].cached, op);
        break;
      case Op::Kind::sync:
        settle(files_[op.file], nullptr);
        break;
      case Op::Kind::lost_sync:
        settle(files_[op.file], &op);
        break;
      case Op::Kind::create:
        files_[op.file];
        folder_pending_.push_back(cut_);
        break;
      case Op::Kind::rename:
      case Op::Kind::remove:
        folder_pending_.push_back(cut_);
        break;
      case Op::Kind::sync_folder:
        for (const std::size_t i : folder_pending_) change_folder(folder_, ops_[i]);
        folder_pending_.clear();
        ++settled_;
        break;
      case Op::Kind::pin:
        break;
    }
  }
}

// What is kept of the pending operations of all files, in the order in which they were asked for.
std::vector<Platter::Piece> Platter::kept(Loss loss, Draw& draw) const {
  std::vector<std::size_t> pending;
  for (const auto& [number, file] : files_)
    pending.insert(pending.end(), file.pending.begin(), file.pending.end());
  std::ranges::sort(pending);
  const std::size_t count = pending.size();
  const std::size_t edge = draw.below(count + 1);
  std::vector<Piece> pieces;
  for (std::size_t i = 0; i < count; ++i) {
    const Op& op = ops_[pending[i]];
    const std::size_t size = op.bytes.size();
    const Piece whole{pending[i], 0, size, false};
    const bool write = op.kind == Op::Kind::write;
    const bool last = i + 1 == count;
    switch (loss) {
      case Loss::nothing:  // all of it is in the cache
      case Loss::all:
        break;
      case Loss::tail:
        if (i < edge) pieces.push_back(whole);
        break;
      case Loss::head:
        if (i >= edge) pieces.push_back(whole);
        break;
      case Loss::writes:
        if (draw.chance(0.5)) pieces.push_back(whole);
        break;
      case Loss::sectors:
        for (std::size_t from = 0; write && from < size; from += kSector)
          if (draw.chance(0.6))
            pieces.push_back({pending[i], from, std::min(size, from + kSector), false});
        if (!write && draw.chance(0.5)) pieces.push_back(whole);
        break;
      case Loss::torn:
      case Loss::smeared: {
        if (!last || !write) {
          pieces.push_back(whole);
          break;
        }
        const std::size_t to = kSector * draw.below(size / kSector + 1);
        pieces.push_back({pending[i], 0, to, false});
        if (loss == Loss::smeared)
          pieces.push_back({pending[i], to, std::min(size, to + kSector), true});
        break;
      }
      case Loss::sizes_alone:
        pieces.push_back({pending[i], size, size, false});
        break;
    }
  }
  return pieces;
}

Image Platter::image(Loss loss, Draw draw) const {
  std::map<int, std::string> bytes;
  for (const auto& [number, file] : files_)
    bytes[number] = loss == Loss::nothing ? file.cached : file.stored;
  Image image;
  image.what = mix(0xcbf29ce484222325ULL, loss == Loss::nothing ? ~cut_ : settled_);
  for (const Piece& piece : kept(loss, draw)) {
    const Op& op = ops_[piece.op];
    std::string& file = bytes[op.file];
    const auto at = static_cast<std::size_t>(op.at);
    if (op.kind == Op::Kind::resize)
      file.resize(at, '\0');
    else if (piece.noise)
      put(file, at + piece.from, noise_of(piece.to - piece.from, draw));
    else
      put(file, at + piece.from,
          std::string_view(op.bytes).substr(piece.from, piece.to - piece.from));
    image.what = mix(mix(mix(image.what, piece.op), piece.from), piece.to * 2 + piece.noise);
  }
  // The folder keeps its changes in their order, up to some moment.
  std::map<std::string, int> folder = folder_;
  std::size_t known = folder_pending_.size();
  if (loss == Loss::all) known = 0;
  if (loss != Loss::all && loss != Loss::nothing) known = draw.below(known + 1);
  for (std::size_t i = 0; i < known; ++i) change_folder(folder, ops_[folder_pending_[i]]);
  image.what = mix(image.what, known);
  for (const auto& [name, file] : folder) image.files[name] = bytes[file];
  return image;
}

}  // namespace neap::crash
